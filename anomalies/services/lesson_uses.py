"""Writes of what was decided on a lesson where it was offered, and of what was changed for it."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, Anomaly, CorrectiveAction, Lesson, LessonUse, Procedure, ProcedureRevision
from anomalies.models.anomaly import UNNUMBERED
from anomalies.models.base import Record, RecordQuerySet
from anomalies.models.requirement import Requirement
from anomalies.services.checks import NOT_THERE, begin_move, clean_values, need_text
from anomalies.services.ledger import change_record, create_record
from anomalies.states import LESSON, LESSON_USE, ActivityState
from config.kit.errors import BadInput, Refused

ONE_PLACE = "Name what it was offered for: an anomaly, an activity or a procedure, one of them."
NOT_REPORTED = "This anomaly isn't reported yet."
OWN = "The lesson was drawn from it: decide where it's offered to others."
OVER = "This activity is over: nothing can be changed for it."
DECIDED = "This was decided before: withdraw that decision first."
ONE_CHANGE = "Name what was changed: a revision, what a kind of activity asks for, or an action, one of them."
NOT_ACCEPTED = "It was declined, so nothing was changed for it."
WHY = "Say why."
PLACES: dict[str, Any] = {"activity_id": Activity, "anomaly_id": Anomaly, "procedure_id": Procedure}
CHANGES: dict[str, Any] = {
    "changed_action_id": CorrectiveAction,
    "changed_requirement_id": Requirement,
    "changed_revision_id": ProcedureRevision,
}


@transaction.atomic
def decide_lesson(
    *,
    lesson_id: int,
    actor: User,
    decision: str,
    reason: str,
    anomaly_id: int | None = None,
    activity_id: int | None = None,
    procedure_id: int | None = None,
) -> LessonUse:
    """The lesson is accepted or declined for one anomaly, activity or procedure, with a reason."""
    lesson = Lesson.objects.lock(lesson_id)
    begin_move(lesson, LESSON, "decide", actor)
    given = {"anomaly_id": anomaly_id, "activity_id": activity_id, "procedure_id": procedure_id}
    name, place = _find_one(given, PLACES, ONE_PLACE)
    _check_place(lesson, name, place)
    values = clean_values(LessonUse(), {"decision": decision}, ("decision",))
    reason = need_text("reason", reason, WHY)
    if LessonUse.objects.standing().filter(lesson=lesson, **{name: place.pk}).exists():
        raise Refused(DECIDED, code="decided")
    use = LessonUse(lesson=lesson, reason=reason, decided_by=actor, decided_at=now(), **{name: place.pk}, **values)
    create_record(use, actor=actor, action=f"lesson_use.{'accept' if use.decision == 'accepted' else 'decline'}")
    return use


@transaction.atomic
def tie_lesson_use(
    *,
    use_id: int,
    actor: User,
    changed_revision_id: int | None = None,
    changed_requirement_id: int | None = None,
    changed_action_id: int | None = None,
) -> LessonUse:
    """This was changed for the accepted lesson."""
    use = LessonUse.objects.lock(use_id)
    begin_move(use, LESSON_USE, "tie", actor)
    if use.decision != LessonUse.Decision.ACCEPTED:
        raise Refused(NOT_ACCEPTED, code="not_accepted")
    given = {
        "changed_revision_id": changed_revision_id,
        "changed_requirement_id": changed_requirement_id,
        "changed_action_id": changed_action_id,
    }
    name, changed = _find_one(given, CHANGES, ONE_CHANGE)
    changes = dict.fromkeys(CHANGES) | {name: changed.pk}
    changes = {column: key for column, key in changes.items() if getattr(use, column) != key}
    if changes:
        change_record(use, changes, actor=actor, action="lesson_use.tie")
    return use


@transaction.atomic
def withdraw_lesson_use(*, use_id: int, actor: User, reason: str) -> LessonUse:
    """The decision doesn't count: the lesson is offered there again."""
    use = LessonUse.objects.lock(use_id)
    move = begin_move(use, LESSON_USE, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(use, changes, actor=actor, action="lesson_use.withdraw", reason=reason)
    return use


def _find_one(given: dict[str, int | None], models: dict[str, Any], message: str) -> tuple[str, Record]:
    """Return the column and the record of the one that is given; raises BadInput. Records are never deleted."""
    named = [name for name, key in given.items() if key is not None]
    if len(named) != 1:
        raise BadInput(message, fields={name: [message] for name in named or list(given)[:1]})
    (name,) = named
    rows: RecordQuerySet[Any] = models[name].objects.all()
    found = rows.filter(pk=given[name]).first()
    if found is None:
        raise BadInput(NOT_THERE, code="not_there", fields={name: [NOT_THERE]})
    return name, found


def _check_place(lesson: Lesson, name: str, place: Any) -> None:
    if isinstance(place, Anomaly) and place.state in UNNUMBERED:
        raise BadInput(NOT_REPORTED, code="not_reported", fields={name: [NOT_REPORTED]})
    if isinstance(place, Activity) and place.state not in (ActivityState.PLANNED, ActivityState.UNDER_WAY):
        raise BadInput(OVER, code="over", fields={name: [OVER]})
    if place in (lesson.anomaly, lesson.activity):
        raise BadInput(OWN, code="own", fields={name: [OWN]})
