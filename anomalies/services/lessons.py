"""Writes of lessons: written, placed where they apply, issued by somebody else, retired."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, Anomaly, Lesson, LessonPlace
from anomalies.services.checks import NOT_THERE, begin_move, clean_text, clean_values, lock_named, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.numbers import take_number
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import LESSON, ActivityState, AnomalyState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

FIELDS = ("title", "what_happened", "why", "what_to_do")
PLACES = ("hardware_type_id", "procedure_id", "activity_kind", "task")
OVER = (ActivityState.COMPLETED, ActivityState.ENDED_EARLY)
ONE_ORIGIN = "Name the closed anomaly or the activity that it is drawn from, one of the two."
NOT_CLOSED = "A lesson is drawn from a closed anomaly: this one's causes aren't settled yet."
NOT_OVER = "A lesson is drawn from an activity that is over."
ONE_PLACE = "Name one thing that it applies to: a type of hardware, a procedure, a kind of activity or a task."
NOWHERE = "Say first where it applies: nobody would be offered it."
WHY = "Say why."


@transaction.atomic
def write_lesson(
    *,
    actor: User,
    title: str,
    what_happened: str,
    why: str,
    what_to_do: str,
    anomaly_id: int | None = None,
    activity_id: int | None = None,
) -> Lesson:
    """One more lesson, L-2031-004, drafted: drawn from a closed anomaly, or from an activity that is over."""
    require(actor, "lesson.add")
    if (anomaly_id is None) == (activity_id is None):
        raise BadInput(ONE_ORIGIN, fields={"anomaly_id": [ONE_ORIGIN]})
    given = {"title": title, "what_happened": what_happened, "why": why, "what_to_do": what_to_do}
    values = clean_values(Lesson(), given, FIELDS)
    at = now()
    year = at.astimezone(UTC).year
    number = f"L-{year}-{take_number(f'L-{year}'):03}"  # its lock comes before those of records
    origin = _lock_origin(anomaly_id, activity_id)
    lesson = Lesson(number=number, author=actor, written_at=at, **origin, **values)
    create_record(lesson, actor=actor, action="lesson.write")
    return lesson


@transaction.atomic
def edit_lesson(*, lesson_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> Lesson:
    """The draft says it otherwise; raises EditConflict if it changed since `version`."""
    lesson = Lesson.objects.lock(lesson_id)
    changed = edit_fields(lesson, LESSON, actor=actor, version=version, changes=changes, allowed=FIELDS)
    if changed:
        change_record(lesson, changed, actor=actor, action="lesson.edit")
    return lesson


@transaction.atomic
def place_lesson(*, lesson_id: int, actor: User, **place: Any) -> LessonPlace:
    """It applies to one more thing: one of PLACES."""
    lesson = Lesson.objects.lock(lesson_id)
    begin_move(lesson, LESSON, "place", actor)
    return attach(LessonPlace, actor=actor, action="lesson_place.add", lesson=lesson, **_clean_place(place))


@transaction.atomic
def unplace_lesson(*, lesson_id: int, actor: User, place_id: int) -> None:
    """It doesn't apply there."""
    lesson = Lesson.objects.lock(lesson_id)
    begin_move(lesson, LESSON, "place", actor)
    place = LessonPlace.objects.filter(lesson=lesson, pk=place_id, active=True).first()
    if place is None:
        raise BadInput(NOT_THERE, code="not_there", fields={"place_id": [NOT_THERE]})
    if lesson.issued_at and lesson.places.filter(active=True).count() == 1:
        raise Refused(NOWHERE, code="nowhere")
    detach(LessonPlace, actor=actor, action="lesson_place.drop", pk=place.pk)


@transaction.atomic
def issue_lesson(*, lesson_id: int, actor: User, version: int, proof: PasswordProof) -> Lesson:
    """Everybody is offered it where it applies; signed by somebody who didn't write it."""
    lesson = Lesson.objects.lock(lesson_id)
    move = begin_move(lesson, LESSON, "issue", actor)
    check_version(lesson, seen=version, changes={})
    if not lesson.places.filter(active=True).exists():
        raise Refused(NOWHERE, code="nowhere")
    meaning = f"To be heeded where it applies: {lesson}"
    sign(lesson, actor=actor, proof=proof, seen=version, meaning=meaning, permission="change_lesson")
    changes = {"state": move.target, "issued_at": now(), "issued_by": actor}
    change_record(lesson, changes, actor=actor, action="lesson.issue")
    return lesson


@transaction.atomic
def retire_lesson(*, lesson_id: int, actor: User, reason: str) -> Lesson:
    """Nobody is offered it any more."""
    return _step(lesson_id, actor, "retire", reason)


@transaction.atomic
def restore_lesson(*, lesson_id: int, actor: User, reason: str) -> Lesson:
    """It is a draft again: somebody issues it anew."""
    return _step(lesson_id, actor, "restore", reason)


def _step(lesson_id: int, actor: User, name: str, reason: str) -> Lesson:
    lesson = Lesson.objects.lock(lesson_id)
    move = begin_move(lesson, LESSON, name, actor)
    reason = need_text("reason", reason, WHY)
    changes: dict[str, Any] = {"state": move.target, "state_reason": reason}
    if name == "restore":
        changes |= {"issued_at": None, "issued_by": None}
    change_record(lesson, changes, actor=actor, action=f"lesson.{name}", reason=reason)
    return lesson


def _lock_origin(anomaly_id: int | None, activity_id: int | None) -> dict[str, Any]:
    if anomaly_id is not None:
        anomaly = lock_named("anomaly_id", Anomaly.objects.all(), anomaly_id)
        if anomaly.state != AnomalyState.CLOSED:
            raise BadInput(NOT_CLOSED, code="not_closed", fields={"anomaly_id": [NOT_CLOSED]})
        return {"anomaly": anomaly}
    assert activity_id is not None  # one of the two is given
    activity = lock_named("activity_id", Activity.objects.all(), activity_id)
    if activity.state not in OVER:
        raise BadInput(NOT_OVER, code="not_over", fields={"activity_id": [NOT_OVER]})
    return {"activity": activity}


def _clean_place(place: Mapping[str, Any]) -> dict[str, Any]:
    """Return all of PLACES, one of them named; raises BadInput."""
    given = {name: value for name, value in place.items() if value not in (None, "")}
    if isinstance(given.get("task"), str):
        given["task"] = " ".join(clean_text("task", given["task"]).split())
    named = [name for name in PLACES if given.get(name)]
    if len(named) != 1:
        raise BadInput(ONE_PLACE, fields={name: [ONE_PLACE] for name in named or ["task"]})
    cleaned = clean_values(LessonPlace(), given, PLACES)
    empty: dict[str, Any] = {"hardware_type_id": None, "procedure_id": None, "activity_kind": "", "task": ""}
    return empty | cleaned
