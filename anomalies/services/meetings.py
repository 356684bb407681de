"""Writes of the board's meetings: planned, opened, what was decided, who was there, ended or cancelled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Anomaly, BoardMeeting, MeetingAttendance, MeetingDecision
from anomalies.people import find_people_who_may
from anomalies.reads.meetings.agenda import read_agenda
from anomalies.reads.meetings.frozen import write_agenda
from anomalies.services.checks import begin_move, clean_values, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, create_record
from anomalies.states import BOARD_MEETING, MEETING_DECISION
from config.kit.errors import BadInput
from config.kit.permissions import allows, require

FIELDS = ("title", "planned_for", "chair_id")
BAD_CHAIR = "This person can't chair a meeting: they need a role that may hold one."
BAD_PERSON = "Name only people who may see anomalies."
NOBODY = "Say who was there: at least one person."
NO_ANOMALY = "There's no such anomaly, or it isn't reported yet."
NO_TEXT = "Say what was decided."
WHY = "Say why."
Presence = MeetingAttendance.Presence


@transaction.atomic
def plan_meeting(
    *, actor: User, title: str, planned_for: datetime, chair_id: int, person_ids: Sequence[int] = ()
) -> BoardMeeting:
    """The meeting is planned; its chair and these people are expected."""
    require(actor, "board_meeting.plan")
    given = {"title": title, "planned_for": planned_for, "chair_id": chair_id}
    meeting = BoardMeeting(**clean_values(BoardMeeting(), given, FIELDS))
    _check_chair(meeting)
    expected = _check_people(person_ids)
    create_record(meeting, actor=actor, action="board_meeting.plan")
    _expect(meeting, [*expected, meeting.chair_id], actor)
    return meeting


@transaction.atomic
def edit_meeting(*, meeting_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> BoardMeeting:
    """Title, moment or chair are changed; a new chair is expected too. EditConflict if it changed since `version`."""
    meeting = BoardMeeting.objects.lock(meeting_id)
    changed = edit_fields(meeting, BOARD_MEETING, actor=actor, version=version, changes=changes, allowed=FIELDS)
    if "chair_id" in changed:
        _check_chair(BoardMeeting(chair_id=changed["chair_id"]))
    if changed:
        change_record(meeting, changed, actor=actor, action="board_meeting.edit")
        _expect(meeting, [meeting.chair_id], actor)
    return meeting


@transaction.atomic
def expect_people(*, meeting_id: int, actor: User, person_ids: Sequence[int]) -> BoardMeeting:
    """These people and the chair are expected, and nobody else."""
    meeting = BoardMeeting.objects.lock(meeting_id)
    begin_move(meeting, BOARD_MEETING, "attend", actor)
    wanted = {*_check_people(person_ids), meeting.chair_id}
    expected = set(meeting.attendances.filter(active=True).values_list("person_id", flat=True))
    for person_id in sorted(expected - wanted):
        keys = {"meeting_id": meeting.pk, "person_id": person_id}
        detach(MeetingAttendance, actor=actor, action="board_meeting.excuse", **keys)
    _expect(meeting, sorted(wanted - expected), actor)
    return meeting


@transaction.atomic
def open_meeting(*, meeting_id: int, actor: User) -> BoardMeeting:
    """The meeting is under way; the agenda as it stands is kept, and the minutes begin."""
    meeting = BoardMeeting.objects.lock(meeting_id)
    move = begin_move(meeting, BOARD_MEETING, "open", actor)
    at = now()
    changes = {"state": move.target, "opened_at": at, "agenda_then": write_agenda(read_agenda())}
    change_record(meeting, changes, actor=actor, action="board_meeting.open")
    return meeting


@transaction.atomic
def record_decision(*, meeting_id: int, actor: User, text: str, anomaly_id: int | None = None) -> MeetingDecision:
    """The decision is on record, about one anomaly or about none."""
    meeting = BoardMeeting.objects.lock(meeting_id)
    begin_move(meeting, BOARD_MEETING, "decide", actor)
    text = need_text("text", text, NO_TEXT)
    if anomaly_id is not None:
        _check_anomaly(anomaly_id)
    decision = MeetingDecision(meeting=meeting, anomaly_id=anomaly_id, text=text, recorded_by=actor, recorded_at=now())
    create_record(decision, actor=actor, action="meeting_decision.record")
    return decision


@transaction.atomic
def withdraw_decision(*, decision_id: int, actor: User, reason: str) -> MeetingDecision:
    """The decision doesn't count any more; it stays in the minutes, with the reason."""
    decision = MeetingDecision.objects.lock(decision_id)
    move = begin_move(decision, MEETING_DECISION, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(decision, changes, actor=actor, action="meeting_decision.withdraw", reason=reason)
    return decision


@transaction.atomic
def end_meeting(*, meeting_id: int, actor: User, person_ids: Sequence[int]) -> BoardMeeting:
    """The meeting was held: who was there is on record, and the agenda as it stands now is kept."""
    meeting = BoardMeeting.objects.lock(meeting_id)
    move = begin_move(meeting, BOARD_MEETING, "end", actor)
    there = set(_check_people(person_ids))
    if not there:
        raise BadInput(NOBODY, fields={"person_ids": [NOBODY]})
    _note_presence(meeting, there, actor)
    changes = {"state": move.target, "ended_at": now(), "agenda_left": write_agenda(read_agenda())}
    change_record(meeting, changes, actor=actor, action="board_meeting.end")
    return meeting


@transaction.atomic
def cancel_meeting(*, meeting_id: int, actor: User, reason: str) -> BoardMeeting:
    """The meeting won't be held."""
    meeting = BoardMeeting.objects.lock(meeting_id)
    move = begin_move(meeting, BOARD_MEETING, "cancel", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(meeting, changes, actor=actor, action="board_meeting.cancel", reason=reason)
    return meeting


def _expect(meeting: BoardMeeting, person_ids: Sequence[int], actor: User) -> None:
    for person_id in dict.fromkeys(person_ids):
        keys = {"meeting_id": meeting.pk, "person_id": person_id}
        attach(MeetingAttendance, actor=actor, action="board_meeting.expect", **keys)


def _note_presence(meeting: BoardMeeting, there: set[int], actor: User) -> None:
    """Say of everybody expected whether they came, and who came besides."""
    action = "board_meeting.note_presence"
    rows = {row.person_id: row for row in meeting.attendances.all()}
    for row in rows.values():
        if row.person_id in there or row.active:
            presence = Presence.THERE if row.person_id in there else Presence.ABSENT
            change_record(row, {"presence": presence}, actor=actor, action=action)
    for person_id in sorted(there - rows.keys()):
        row = MeetingAttendance(meeting=meeting, person_id=person_id, active=False, presence=Presence.THERE)
        create_record(row, actor=actor, action=action)


def _check_chair(meeting: BoardMeeting) -> None:
    if not allows(meeting.chair, "board_meeting.open", meeting):
        raise BadInput(BAD_CHAIR, fields={"chair_id": [BAD_CHAIR]})


def _check_people(person_ids: Sequence[int]) -> list[int]:
    wanted = set(person_ids)
    found = set(find_people_who_may("view_anomaly").filter(pk__in=wanted).values_list("pk", flat=True))
    if wanted - found:
        raise BadInput(BAD_PERSON, fields={"person_ids": [BAD_PERSON]})
    return sorted(found)


def _check_anomaly(anomaly_id: int) -> None:
    if not Anomaly.objects.filter(pk=anomaly_id, number__isnull=False).exists():
        raise BadInput(NO_ANOMALY, code="not_there", fields={"anomaly_id": [NO_ANOMALY]})
