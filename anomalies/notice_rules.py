"""Who is told of which entry of the ledger, and in what words: only those of whom it asks something."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeAlias

from django.contrib.auth.models import User

from anomalies.models import (
    Anomaly,
    BoardSeat,
    Constraint,
    CorrectiveAction,
    Finding,
    LedgerEntry,
    Lesson,
    LessonUse,
    MeetingAttendance,
    ParameterUpdate,
    PollPosition,
    ProcedureRevision,
    ReadinessReview,
)
from anomalies.models.base import Record
from anomalies.people import find_people_who_may
from anomalies.reads.lessons.offers import find_concerned
from anomalies.reads.procedures import find_readers
from anomalies.reads.readiness.page import list_signers
from anomalies.states import MeetingState, ReviewState


@dataclass(frozen=True, slots=True)
class Telling:
    """Whom to tell what, and the record to look at."""

    people: Iterable[User]
    text: str
    record: Record


Rule: TypeAlias = Callable[[Any], Telling]


def _screen(anomaly: Anomaly) -> Telling:
    return Telling(find_people_who_may("screen_anomaly"), f"{anomaly} awaits screening.", anomaly)


def _lead(anomaly: Anomaly) -> Telling:
    return Telling([anomaly.lead] if anomaly.lead else [], f"You lead the work on {anomaly}.", anomaly)


def _sit(seat: BoardSeat) -> Telling:
    people = [seat.person] if seat.active else []
    return Telling(people, f"You sit on the board of {seat.anomaly}.", seat.anomaly)


def _position(finding: Finding) -> Telling:
    members = User.objects.filter(board_seats__anomaly=finding.anomaly_id, board_seats__active=True)
    text = f"{finding.label} of {finding.anomaly} awaits your position."
    return Telling(members.exclude(pk=finding.author_id), text, finding)


def _own(action: CorrectiveAction) -> Telling:
    due = f", due on {action.due_on:%Y-%m-%d}" if action.due_on else ""
    return Telling([action.owner] if action.owner else [], f"You own {action}{due}.", action)


def _back(action: CorrectiveAction) -> Telling:
    return Telling([action.owner] if action.owner else [], f"{action} is to be done again.", action)


def _again(action: CorrectiveAction) -> Telling:
    """What was thought to hold doesn't: the owner is asked, and whoever leads the work on the anomaly."""
    people = {each.pk: each for each in (action.owner, action.anomaly.lead) if each}
    return Telling(people.values(), f"{action} is to be done again.", action)


def _decide(update: ParameterUpdate) -> Telling:
    text = f"A new value of {update.item.name} awaits a decision."
    return Telling(find_people_who_may("quantify_risk"), text, update)


def _verify(action: CorrectiveAction) -> Telling:
    verifiers = find_people_who_may("verify_correctiveaction").exclude(pk__in=[action.owner_id, action.doer_id])
    return Telling(verifiers, f"{action} awaits verification.", action)


def _hold(constraint: Constraint) -> Telling:
    activity = constraint.activity
    text = f"{constraint.anomaly.number or 'An anomaly'} constrains {activity}: {constraint.statement}"
    return Telling([activity.lead] if activity else [], text, constraint)


def _slip(review: ReadinessReview) -> Telling:
    """Everybody who signed in the round is told, and whoever leads the activity."""
    people = User.objects.filter(pk__in=[*list_signers(review), review.activity.lead_id])
    what = "what was signed is stale" if review.state == ReviewState.SIGNED else "an item isn't met any more"
    return Telling(people, f"{review}: {what}.", review)


def _heed(lesson: Lesson) -> Telling:
    """Whoever leads an activity to come that it is offered for."""
    people = User.objects.filter(pk__in=find_concerned(lesson)) if lesson.state == "issued" else []
    return Telling(people, f"{lesson} bears on an activity that you lead: accept or decline it there.", lesson)


def _apply(use: LessonUse) -> Telling:
    """Whoever must change something: who leads the work on the anomaly, or the activity."""
    lead = getattr(use.anomaly or use.activity, "lead", None)
    return Telling([lead] if lead else [], f"{use}: tie it to what is changed for it.", use)


def _speak(position: PollPosition) -> Telling:
    people = [position.person] if position.person and position.active else []
    return Telling(people, f"You speak for {position.name} in the poll of {position.activity}.", position)


def _come(row: MeetingAttendance) -> Telling:
    """Only while there's a meeting to come to."""
    meeting = row.meeting
    coming = row.active and meeting.state in (MeetingState.PLANNED, MeetingState.UNDER_WAY)
    text = f"You are expected at a meeting, {meeting}, {meeting.planned_for:%Y-%m-%d %H:%M} UTC."
    return Telling([row.person] if coming else [], text, meeting)


def _name(revision: ProcedureRevision) -> str:
    return f"{revision.procedure}, revision {revision.number}"


def _approve(revision: ProcedureRevision) -> Telling:
    people = [each for each in find_people_who_may("approve_procedure") if not revision.was_written_by(each)]
    return Telling(people, f"{_name(revision)} awaits approval.", revision)


def _release(revision: ProcedureRevision) -> Telling:
    return Telling(find_people_who_may("release_procedure"), f"{_name(revision)} is approved: release it.", revision)


def _rework(revision: ProcedureRevision) -> Telling:
    return Telling([revision.author], f"{_name(revision)} was sent back to you.", revision)


def _read(revision: ProcedureRevision) -> Telling:
    readers = User.objects.filter(pk__in=find_readers(revision).values("person"))
    return Telling(readers, f"{_name(revision)} is for you to read before your next activity.", revision)


RULES: dict[str, tuple[type[Record], Rule]] = {
    "anomaly.report": (Anomaly, _screen),
    "anomaly.submit": (Anomaly, _screen),
    "anomaly.restore": (Anomaly, _screen),
    "anomaly.screen": (Anomaly, _lead),
    "anomaly.assign": (Anomaly, _lead),
    "anomaly.reopen": (Anomaly, _lead),
    "board.seat": (BoardSeat, _sit),
    "board_meeting.expect": (MeetingAttendance, _come),
    "finding.propose": (Finding, _position),
    "action.commit": (CorrectiveAction, _own),
    "action.recommit": (CorrectiveAction, _own),
    "action.send_back": (CorrectiveAction, _back),
    "action.reopen": (CorrectiveAction, _again),
    "action.do": (CorrectiveAction, _verify),
    "constraint.impose": (Constraint, _hold),
    "constraint.reinstate": (Constraint, _hold),
    "poll_position.name": (PollPosition, _speak),
    "readiness_review.slip": (ReadinessReview, _slip),
    "readiness_review.go_stale": (ReadinessReview, _slip),
    "lesson.issue": (Lesson, _heed),
    "lesson_use.accept": (LessonUse, _apply),
    "parameter_update.propose": (ParameterUpdate, _decide),
    "procedure_revision.submit": (ProcedureRevision, _approve),
    "procedure_revision.approve": (ProcedureRevision, _release),
    "procedure_revision.send_back": (ProcedureRevision, _rework),
    "procedure_revision.release": (ProcedureRevision, _read),
}
"""Action of the ledger -> the kind of its record, and what it asks of whom."""


def find_telling(entry: LedgerEntry) -> Telling | None:
    """Return whom an entry asks what; None if it asks nothing.

    Whoever did it isn't told, and nobody whose account is closed. The record is read as it is now: what was settled
    meanwhile is told as it stands.
    """
    if entry.action not in RULES:
        return None
    model, rule = RULES[entry.action]
    told = rule(model._base_manager.get(pk=entry.record_id))
    people = [each for each in told.people if each.pk != entry.actor_id and each.is_active]
    return Telling(people, told.text, told.record)
