"""Anomalies, drafts, constraints and links through the JSON API: as on the pages, with the same refusals."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from anomalies.models import Anomaly
from anomalies.services.anomalies import edit_anomaly
from tests.anomalies.people import (
    board_member,
    make_activity,
    make_constraint,
    make_draft,
    make_item,
    make_open,
    make_person,
    make_reported,
    make_stranger,
    make_type,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
API = "/api/v1"
LIST = f"{API}/anomalies/"
SEEN = {"title": "Coolant wept", "occurred_at": "2024-03-05T09:30:00Z"}


def of(anomaly, move=""):
    return f"{LIST}{anomaly.number}/{f'{move}/' if move else ''}"


def send(client, address, method="post", /, **data):
    return getattr(client, method)(address, data, content_type="application/json")


@pytest.fixture
def client():
    return log_in(safety_engineer())


def test_a_report_gets_its_number_and_shows_what_is_open_to_whom():
    item = make_item()
    answer = send(log_in(recorder()), LIST, **SEEN, hardware_ids=[item.pk], description="Drops.")
    made = answer.json()
    assert answer.status_code == 201
    assert (made["number"], made["state"], made["hardware"]) == ("A-2024-001", "reported", [item.pk])
    assert made["moves"] == ["edit", "gather"]
    seen = log_in(safety_engineer()).get(f"{LIST}A-2024-001/").json()
    assert seen["moves"] == ["edit", "screen", "dismiss", "constrain", "link", "gather"]
    assert {**seen, "moves": made["moves"]} == {**made}


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"title": ""}, "title"),
        ({"occurred_at": "yesterday"}, "occurred_at"),
        ({"occurred_at": "2924-01-01T00:00:00Z"}, "occurred_at"),
        ({"hardware_ids": [999]}, "hardware_ids"),
        ({"activity_id": 999}, "activity_id"),
        ({"description": "x\0"}, "description"),
    ],
)
def test_bad_input_names_its_field(given, field):
    answer = send(log_in(recorder()), LIST, **SEEN | given)
    assert answer.status_code == 400
    assert field in answer.json()["fields"]
    assert not Anomaly.objects.exists()


def test_drafts_are_their_recorders_alone_until_they_are_submitted():
    mine = log_in(recorder())
    draft = send(mine, LIST, **SEEN, is_draft=True).json()
    address = f"{API}/drafts/{draft['id']}/"
    other = log_in(make_person("recorder", "other"))
    assert (draft["number"], draft["state"]) == (None, "draft")
    assert other.get(address).status_code == 404
    assert other.get(LIST).json()["count"] == 0
    assert send(mine, address, "patch", version=1, place="Node 2").json()["place"] == "Node 2"
    assert send(other, f"{address}submit/").status_code == 404
    assert send(mine, f"{address}submit/").json()["number"] == "A-2024-001"
    assert send(mine, f"{address}discard/").status_code == 409
    assert other.get(f"{LIST}A-2024-001/").status_code == 200


def test_discarding_a_draft():
    draft = make_draft()
    assert send(log_in(recorder()), f"{API}/drafts/{draft.pk}/discard/").json()["state"] == "discarded"


def test_an_edit_that_came_too_late_gets_both_versions(client):
    anomaly = make_reported(place="Airlock")
    edit_anomaly(anomaly_id=anomaly.pk, actor=board_member(), version=1, changes={"place": "Node 2"})
    answer = send(client, of(anomaly), "patch", version=1, place="Node 3")
    body = answer.json()
    assert answer.status_code == 409
    assert (body["code"], body["version"]) == ("edit_conflict", 2)
    assert (body["theirs"]["place"]["after"], body["yours"]["place"]) == ("Node 2", "Node 3")
    assert send(client, of(anomaly), "patch", version=2, place="Node 3", reason="Seen there.").status_code == 200
    assert anomaly.reread().place == "Node 3"


def test_screening_and_what_follows(client):
    anomaly, lead = make_reported(), board_member()
    risk = {"severity": 2, "probability": "C", "rationale": "It ends an outing."}
    assert send(client, of(anomaly, "screen"), **risk).json()["fields"] == {"lead_id": ["This field is required."]}
    opened = send(client, of(anomaly, "screen"), **risk, lead_id=lead.pk).json()
    assert (opened["state"], opened["risk_code"], opened["risk"], opened["lead"]) == (
        "open",
        "2C",
        "serious",
        lead.username,
    )
    assert send(client, of(anomaly, "screen"), **risk, lead_id=lead.pk).status_code == 409
    assert send(client, of(anomaly, "reassess"), **risk | {"probability": "E"}).json()["risk_code"] == "2E"
    assert send(client, of(anomaly, "assign"), lead_id=safety_engineer().pk).json()["lead"] == "safety-engineer"
    assert send(client, of(anomaly, "assign"), lead_id=recorder().pk).json()["code"] == "cannot_lead"


def test_dismissing_and_restoring(client):
    anomaly = make_reported()
    assert send(client, of(anomaly, "dismiss"), reason="No anomaly.").json()["state"] == "dismissed"
    assert send(client, of(anomaly, "restore"), reason="It is one.").json()["state"] == "reported"


def test_hardware_is_added_and_taken_off(client):
    anomaly, item = make_reported(), make_item()
    assert send(client, of(anomaly, "add-hardware"), item_id=item.pk).json()["hardware"] == [item.pk]
    assert send(client, of(anomaly, "remove-hardware"), item_id=item.pk).json()["hardware"] == []
    assert send(client, of(anomaly, "add-hardware"), item_id=999).status_code == 400


@pytest.mark.parametrize(
    "move", ["", "screen", "reassess", "assign", "dismiss", "restore", "constrain", "link", "add-hardware"]
)
def test_readers_change_nothing_and_strangers_find_nothing(move):
    anomaly = make_open()
    method = "post" if move else "patch"
    assert send(log_in(viewer()), of(anomaly, move), method).status_code == 403
    assert send(log_in(make_stranger()), of(anomaly, move), method).status_code == 404


def test_the_list_is_filtered_as_the_log_is(client):
    opened, reported = make_open(title="Lamp flickers"), make_reported()
    assert [row["number"] for row in client.get(LIST).json()["results"]] == [reported.number, opened.number]
    for query, expected in {
        "state=open": [opened],
        "risk=serious": [opened],
        "severity=2": [opened],
        "words=lamp": [opened],
        "year=2024&state=reported": [reported],
        "year=2023": [],
        "sort=oldest": [opened, reported],
    }.items():
        rows = client.get(f"{LIST}?{query}").json()["results"]
        assert [row["number"] for row in rows] == [anomaly.number for anomaly in expected], query
    assert client.get(f"{LIST}?state=lost").json()["fields"].keys() == {"state"}
    assert log_in(make_stranger()).get(LIST).status_code == 403


def test_the_list_takes_the_same_number_of_queries_for_more_rows(client):
    def count():
        with CaptureQueriesContext(connection) as caught:
            client.get(LIST)
        return len(caught)

    make_open(hardware_ids=[make_item("A").pk])
    count()
    few = count()
    for serial in "BCD":
        make_open(hardware_ids=[make_item(serial).pk])
    assert count() == few


def test_the_history_is_the_ledgers(client):
    anomaly = make_open()
    make_constraint(anomaly)
    actions = [event["action"] for event in client.get(of(anomaly, "history")).json()]
    assert actions == ["anomaly.report", "anomaly.screen", "constraint.impose"]
    assert log_in(make_stranger()).get(of(anomaly, "history")).status_code == 404


def test_constraints(client):
    anomaly, activity, kind = make_open(), make_activity(), make_type()
    made = send(client, of(anomaly, "constrain"), statement="Not before the check.", activity_id=activity.pk)
    assert made.status_code == 201
    assert send(client, of(anomaly, "constrain"), statement="Not outside.", hardware_type_id=kind.pk).status_code == 201
    assert send(client, of(anomaly, "constrain"), statement="Neither.").json()["code"] == "one_thing"
    address = f"{API}/constraints/{made.json()['id']}/"
    assert client.get(f"{API}/constraints/?activity={activity.pk}").json()["results"] == [made.json()]
    assert client.get(address).json() == made.json()
    assert send(client, f"{address}resolve/", resolution="Checked.").json()["state"] == "resolved"
    assert send(client, f"{address}resolve/", resolution="Again.").status_code == 409
    assert client.get(f"{API}/constraints/?state=in_force").json()["count"] == 1
    assert send(log_in(viewer()), f"{address}reinstate/", reason="No.").status_code == 403
    assert send(client, f"{address}reinstate/", reason="Not all.").json()["state"] == "in_force"
    assert log_in(make_stranger()).get(address).status_code == 404


def test_links(client):
    first, second = make_reported(), make_open()
    made = send(client, of(first, "link"), kind="duplicate", target=second.number, note="The same drop.")
    assert made.status_code == 201
    link = made.json()
    assert (link["source"], link["kind"], link["target"]) == (first.number, "duplicate", second.number)
    again = send(client, of(first, "link"), kind="duplicate", target=second.number)
    assert (again.status_code, again.json()["code"]) == (409, "linked_already")
    assert "target" in send(client, of(first, "link"), kind="related", target="A-1999-001").json()["fields"]
    for end in (first, second):
        assert client.get(f"{API}/links/?anomaly={end.number}").json()["results"] == [link]
    assert client.get(f"{API}/links/{link['id']}/").json() == link
    assert send(client, f"{API}/links/{link['id']}/withdraw/", reason="Another.").json()["state"] == "withdrawn"
    assert client.get(f"{API}/links/?state=standing").json()["count"] == 0


def test_the_schema_holds_every_route(client):
    paths = client.get(f"{API}/schema/?format=json").json()["paths"]
    for path in ("", "{number}/", "{number}/screen/", "{number}/history/", "{number}/link/"):
        assert f"{LIST}{path}" in paths
    assert paths[f"{LIST}{{number}}/screen/"]["post"]["description"].startswith("Open the anomaly")
    operations = [each for path in paths.values() for each in path.values() if "operationId" in each]
    names = [each["operationId"] for each in operations]
    assert len(names) == len(set(names))
