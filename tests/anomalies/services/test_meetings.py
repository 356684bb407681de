"""Meetings: who is expected and who came, decisions, and the agendas that are kept."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.contrib.auth.models import User

from anomalies.clock import now, pretending
from anomalies.errors import EditConflict
from anomalies.models import BoardMeeting, LedgerEntry, MeetingAttendance
from anomalies.notice_rules import find_telling
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.meetings import (
    cancel_meeting,
    edit_meeting,
    end_meeting,
    expect_people,
    open_meeting,
    plan_meeting,
    record_decision,
    withdraw_decision,
)
from anomalies.services.screening import dismiss_anomaly
from config.kit.errors import BadInput, NotAllowed
from tests.anomalies.meetings import end, make_decision, make_held, make_meeting, make_opened
from tests.anomalies.people import (
    board_member,
    make_draft,
    make_open,
    make_person,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.refusals import refused
from tests.anomalies.tampering import execute

pytestmark = pytest.mark.django_db


def expected(meeting):
    return set(meeting.attendances.filter(active=True).values_list("person__username", flat=True))


def came(meeting):
    return dict(meeting.attendances.values_list("person__username", "presence"))


def test_it_is_planned_with_its_chair_expected():
    meeting = make_meeting()
    assert meeting.state == "planned"
    assert expected(meeting) == {safety_engineer().username, board_member().username}
    assert LedgerEntry.objects.of("board_meeting", meeting.pk).get().action == "board_meeting.plan"


def test_who_is_expected_is_told_unless_they_planned_it_themselves():
    meeting = make_meeting()
    entries = LedgerEntry.objects.filter(action="board_meeting.expect")
    told = [person for entry in entries for person in find_telling(entry).people]
    assert told == [board_member()]
    assert find_telling(entries[0]).record == meeting
    cancel_meeting(meeting_id=meeting.pk, actor=safety_engineer(), reason="No time.")
    assert [person for entry in entries for person in find_telling(entry).people] == []


@pytest.mark.parametrize("role", ["viewer", "recorder", "activity lead"])
def test_others_may_not_plan_one(role):
    person, chair = make_person(role), safety_engineer()
    with refused(NotAllowed):
        plan_meeting(actor=person, title="Board", planned_for=now(), chair_id=chair.pk)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"title": "  "}, "title"),
        ({"title": "x" * 201}, "title"),
        ({"chair_id": -1}, "chair_id"),
        ({"person_ids": [-1]}, "person_ids"),
        ({"planned_for": now().replace(tzinfo=None)}, "planned_for"),
    ],
)
def test_what_can_not_be_planned_is_refused_by_field(wrong, field):
    engineer = safety_engineer()
    given = {"title": "Board", "planned_for": now(), "chair_id": engineer.pk, "person_ids": []} | wrong
    with refused(BadInput) as caught:
        plan_meeting(actor=engineer, **given)
    assert caught.value.fields.keys() == {field}


def test_only_who_may_hold_one_can_chair_and_only_who_may_see_can_come():
    engineer, reader, stranger = safety_engineer(), viewer(), make_stranger()
    given = {"actor": engineer, "title": "Board", "planned_for": now()}
    with refused(BadInput) as caught:
        plan_meeting(**given, chair_id=reader.pk)
    assert caught.value.fields.keys() == {"chair_id"}
    with refused(BadInput) as caught:
        plan_meeting(**given, chair_id=engineer.pk, person_ids=[reader.pk, stranger.pk])
    assert caught.value.fields.keys() == {"person_ids"}


def test_a_new_chair_is_expected_and_the_old_one_stays_so():
    meeting = make_meeting(person_ids=[])
    member = board_member()
    changes = {"chair_id": member.pk}
    edit_meeting(meeting_id=meeting.pk, actor=member, version=meeting.version, changes=changes)
    assert expected(meeting) == {safety_engineer().username, member.username}
    reader = viewer()
    with refused(BadInput) as caught:
        edit_meeting(meeting_id=meeting.pk, actor=member, version=2, changes={"chair_id": reader.pk})
    assert caught.value.fields.keys() == {"chair_id"}


def test_a_stale_edit_is_sent_back_with_both_versions():
    meeting = make_meeting()
    edit_meeting(meeting_id=meeting.pk, actor=board_member(), version=1, changes={"title": "Theirs"})
    with refused(EditConflict) as caught:
        edit_meeting(meeting_id=meeting.pk, actor=safety_engineer(), version=1, changes={"title": "Mine"})
    assert caught.value.clashes == ("title",)
    entries = LedgerEntry.objects.count()
    edit_meeting(meeting_id=meeting.pk, actor=board_member(), version=2, changes={"title": "Theirs"})
    assert LedgerEntry.objects.count() == entries


def test_the_list_of_those_expected_is_set_anew_with_the_chair_in_it():
    meeting = make_meeting()
    expect_people(meeting_id=meeting.pk, actor=board_member(), person_ids=[recorder().pk])
    assert expected(meeting) == {safety_engineer().username, recorder().username}
    expect_people(meeting_id=meeting.pk, actor=board_member(), person_ids=[board_member().pk])
    assert expected(meeting) == {safety_engineer().username, board_member().username}
    assert prove_ledger().is_whole


def test_it_says_who_came_who_did_not_and_who_came_besides():
    meeting = make_opened(person_ids=[board_member().pk, recorder().pk])
    expect_people(meeting_id=meeting.pk, actor=board_member(), person_ids=[board_member().pk])
    end(meeting, safety_engineer(), viewer())
    assert came(meeting) == {
        safety_engineer().username: "there",
        board_member().username: "absent",
        viewer().username: "there",
        recorder().username: "",  # wasn't expected any more
    }
    assert not MeetingAttendance.objects.get(meeting=meeting, person=viewer()).active


@pytest.mark.parametrize("people", [[], [-1]])
def test_it_does_not_end_before_somebody_says_who_was_there(people):
    meeting = make_opened()
    with refused(BadInput) as caught:
        end_meeting(meeting_id=meeting.pk, actor=safety_engineer(), person_ids=people)
    assert caught.value.fields.keys() == {"person_ids"}


def test_agendas_are_kept_at_its_beginning_and_its_end():
    report = make_reported()
    meeting = make_opened()
    assert meeting.agenda_left == ""
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="A reflection.")
    meeting = end(meeting)
    then, left = (json.loads(text)["items"] for text in (meeting.agenda_then, meeting.agenda_left))
    assert [(item["group"], item["kind"], item["key"]) for item in then] == [("screening", "anomaly", report.pk)]
    assert (then[0]["version"], then[0]["content_hash"]) == (report.version, report.content_hash())
    assert left == []


def test_the_ledger_holds_the_hash_of_a_kept_agenda_and_notices_another():
    make_reported()
    meeting = make_held()
    changes = LedgerEntry.objects.get(action="board_meeting.end").changes
    assert "agenda_left_hash" in changes
    assert "agenda_left" not in changes
    assert prove_ledger().is_whole
    text = meeting.agenda_left.replace("Screen it", "Forget it")
    assert text != meeting.agenda_left
    execute("UPDATE anomalies_boardmeeting SET agenda_left = %s WHERE id = %s", text, meeting.pk)
    assert not prove_ledger().is_whole


def test_a_decision_is_about_an_anomaly_or_about_none():
    meeting, anomaly = make_opened(), make_open()
    about = make_decision(meeting, anomaly_id=anomaly.pk, text="  Keep it\r\nquarantined. ")
    assert (about.anomaly, about.text, about.recorded_by) == (anomaly, "Keep it\nquarantined.", board_member())
    assert make_decision(meeting).anomaly is None


def test_a_decision_says_something_and_names_a_reported_anomaly():
    meeting, draft, member = make_opened(), make_draft(), board_member()
    for given, field in (({"text": " "}, "text"), ({"text": "So.", "anomaly_id": draft.pk}, "anomaly_id")):
        with refused(BadInput) as caught:
            record_decision(meeting_id=meeting.pk, actor=member, **given)
        assert caught.value.fields.keys() == {field}
    with refused(BadInput):
        record_decision(meeting_id=meeting.pk, actor=member, text="So.", anomaly_id=-1)


def test_a_withdrawn_decision_stays_with_its_reason_also_after_the_meeting():
    decision = make_decision()
    end(decision.meeting)
    member = board_member()
    with refused(BadInput) as caught:
        withdraw_decision(decision_id=decision.pk, actor=member, reason="  ")
    assert caught.value.fields.keys() == {"reason"}
    withdraw_decision(decision_id=decision.pk, actor=member, reason="Not ours to decide.")
    row = decision.reread()
    assert (row.state, row.state_reason, row.text) == ("withdrawn", "Not ours to decide.", "Meet every week.")


def test_it_is_cancelled_only_with_a_reason():
    meeting, engineer = make_meeting(), safety_engineer()
    with refused(BadInput) as caught:
        cancel_meeting(meeting_id=meeting.pk, actor=engineer, reason="")
    assert caught.value.fields.keys() == {"reason"}


def test_times_are_those_of_the_moves():
    meeting = make_meeting()
    start = now() + timedelta(days=2)
    with pretending(start):
        open_meeting(meeting_id=meeting.pk, actor=safety_engineer())
    with pretending(start + timedelta(hours=2)):
        end(meeting)
    meeting = BoardMeeting.objects.get(pk=meeting.pk)
    assert (meeting.opened_at, meeting.ended_at) == (start, start + timedelta(hours=2))


def test_somebody_whose_account_is_closed_is_not_expected_anew():
    meeting, member = make_meeting(), board_member()
    User.objects.filter(pk=member.pk).update(is_active=False)
    engineer = safety_engineer()
    with refused(BadInput):
        expect_people(meeting_id=meeting.pk, actor=engineer, person_ids=[member.pk])
