"""Meetings of the board through the API."""

from __future__ import annotations

import pytest

from anomalies.services.screening import dismiss_anomaly
from tests.anomalies.api.test_operations import API, send
from tests.anomalies.meetings import make_cancelled, make_decision, make_held, make_meeting, make_opened
from tests.anomalies.people import (
    board_member,
    make_open,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def test_one_is_planned_opened_decided_at_and_ended():
    member, anomaly, report = board_member(), make_open(), make_reported()
    client = log_in(member)
    given = {"title": "Board", "planned_for": "2031-04-05T09:30:00Z", "chair_id": member.pk}
    answer = send(client, "meetings/", **given, person_ids=[recorder().pk])
    assert answer.status_code == 201
    meeting = answer.json()
    here = f"meetings/{meeting['id']}/"
    assert (meeting["state"], meeting["moves"]) == ("planned", ["edit", "attend", "open", "cancel"])
    assert [each["is_expected"] for each in meeting["people"]] == [True, True]
    changed = send(client, here, "patch", version=meeting["version"], title="Board, again").json()
    assert changed["title"] == "Board, again"
    assert send(client, here, "patch", version=meeting["version"], title="Third").status_code == 409
    assert len(send(client, f"{here}attend/", person_ids=[]).json()["people"]) == 1
    assert send(client, f"{here}open/").json()["state"] == "under_way"
    decided = send(client, f"{here}decide/", text="Keep it.", anomaly_id=anomaly.pk)
    assert decided.status_code == 200
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="Nothing.")
    assert send(client, f"{here}end/", person_ids=[member.pk]).json()["state"] == "held"
    minutes = client.get(f"{API}/{here}minutes/").json()
    assert [row["anomaly"] for row in minutes["decisions"]] == [anomaly.number]
    assert [(row["part"], row["record_id"], row["outside"]) for row in minutes["lines"]] == [
        ("screening", report.pk, True)
    ]
    assert minutes["until"] is not None
    agenda = client.get(f"{API}/{here}agenda/").json()
    assert agenda["is_kept"] is True
    assert [(row["group"], row["record_id"]) for row in agenda["items"]] == [("unexplained", anomaly.pk)]
    assert client.get(f"{API}/meetings/").json()["results"][0]["id"] == meeting["id"]


def test_a_decision_is_shown_and_withdrawn():
    decision = make_decision()
    client = log_in(board_member())
    here = f"meeting-decisions/{decision.pk}/"
    assert client.get(f"{API}/{here}").json()["moves"] == ["withdraw"]
    assert send(client, f"{here}withdraw/", reason="Not ours.").json()["state"] == "withdrawn"
    assert send(client, f"{here}withdraw/", reason="Not ours.").json()["code"] == "wrong_state"
    (row,) = client.get(f"{API}/meetings/{decision.meeting_id}/decisions/").json()
    assert (row["state"], row["state_reason"], row["moves"]) == ("withdrawn", "Not ours.", [])


def test_what_is_not_there_yet_is_a_wrong_state():
    client = log_in(viewer())
    assert client.get(f"{API}/meetings/{make_meeting().pk}/minutes/").status_code == 409
    assert client.get(f"{API}/meetings/{make_cancelled().pk}/agenda/").status_code == 409
    live = client.get(f"{API}/meetings/{make_opened().pk}/agenda/").json()
    assert live["is_kept"] is False


@pytest.mark.parametrize("wrong", [{"title": ""}, {"chair_id": 999_999}, {"person_ids": [999_999]}])
def test_what_can_not_be_planned_is_refused_by_field(wrong):
    member = board_member()
    given = {"title": "Board", "planned_for": "2031-04-05T09:30:00Z", "chair_id": member.pk} | wrong
    answer = send(log_in(member), "meetings/", **given)
    assert (answer.status_code, answer.json()["fields"].keys()) == (400, wrong.keys())


def test_a_viewer_reads_and_a_stranger_finds_none():
    held = make_held()
    client = log_in(viewer())
    assert client.get(f"{API}/meetings/{held.pk}/").json()["moves"] == []
    assert send(client, f"meetings/{make_meeting().pk}/open/").status_code == 403
    stranger = log_in(make_stranger())
    for address in ("", "agenda/", "minutes/", "decisions/"):
        assert stranger.get(f"{API}/meetings/{held.pk}/{address}").status_code == 404
    assert stranger.get(f"{API}/meetings/").status_code == 403
