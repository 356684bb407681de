"""Lessons for tests, made with the services."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User

from anomalies.models import Activity, Lesson, LessonUse
from anomalies.services.activities import complete_activity, start_activity
from anomalies.services.lesson_uses import decide_lesson, tie_lesson_use
from anomalies.services.lessons import issue_lesson, place_lesson, write_lesson
from tests.anomalies.people import activity_lead, board_member, make_activity, make_person, make_type, safety_engineer
from tests.anomalies.procedures import prove
from tests.anomalies.readiness import make_requirement


def author() -> User:
    """A board member who wrote all of these lessons, and does nothing else."""
    return make_person("board member", "author")


def make_over() -> Activity:
    """A sortie that went well."""
    activity = make_activity(title="Sortie 3")
    start_activity(activity_id=activity.pk, actor=activity_lead())
    return complete_activity(activity_id=activity.pk, actor=activity_lead())


def make_lesson(**changes: Any) -> Lesson:
    """A draft that applies to the umbilical."""
    given = {
        "title": "Push the collar home before turning the ring",
        "what_happened": "Coolant wept at the quick disconnect.",
        "why": "The collar was turned before it clicked.",
        "what_to_do": "Look and pull before turning.",
    }
    if "anomaly_id" not in changes and "activity_id" not in changes:
        given["activity_id"] = make_over().pk
    lesson = write_lesson(actor=author(), **given | changes)
    place_lesson(lesson_id=lesson.pk, actor=board_member(), hardware_type_id=make_type().pk)
    return lesson


def issue(lesson: Lesson, actor: User | None = None) -> Lesson:
    """The safety engineer issues it."""
    actor = actor or safety_engineer()
    return issue_lesson(lesson_id=lesson.pk, actor=actor, version=lesson.reread().version, proof=prove(actor))


def make_issued(**changes: Any) -> Lesson:
    """An issued lesson."""
    return issue(make_lesson(**changes))


def decide(lesson: Lesson | None = None, decision: str = "accepted", **place: int) -> LessonUse:
    """The board member decides on it, for an activity unless another place is named."""
    place = place or {"activity_id": make_activity().pk}
    given = {"decision": decision, "reason": "It fits."}
    return decide_lesson(lesson_id=(lesson or make_issued()).pk, actor=board_member(), **given, **place)


def tie(use: LessonUse) -> LessonUse:
    """Transfers are asked for a rehearsal because of it."""
    return tie_lesson_use(use_id=use.pk, actor=board_member(), changed_requirement_id=make_requirement().pk)
