"""The list of lessons: filters, tabs, rows for export; and the page of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, Q

from anomalies.models import Lesson, LessonUse
from anomalies.models.lesson import LessonQuerySet
from anomalies.reads.history import Event, read_history
from anomalies.states import AnomalyState, LessonState
from config.kit.permissions import Actor

TABS = {"issued": "Issued", "unapplied": "Applied nowhere", "drafted": "Drafts", "retired": "Retired", "all": "All"}
HEADER = ("number", "title", "state", "drawn_from", "what_happened", "why", "what_to_do", "applies_to", "changed")


@dataclass(frozen=True, slots=True)
class LessonFilter:
    """Which lessons are wanted."""

    show: str = "issued"
    words: str = ""

    @classmethod
    def read(cls, sent: Mapping[str, str]) -> LessonFilter:
        """Return what a query string asks for; what isn't known is left out."""
        show = sent.get("show", "")
        return cls(show if show in TABS else "issued", sent.get("words", "").strip()[:200])

    @property
    def query(self) -> str:
        """The same as a query string."""
        return urlencode({"show": self.show} | ({"words": self.words} if self.words else {}))


def show_tab(rows: LessonQuerySet, show: str) -> LessonQuerySet:
    """Return those of a tab."""
    if show == "unapplied":
        return rows.never_applied()
    return rows if show == "all" else rows.filter(state=show)


def find_lessons(actor: Actor, wanted: LessonFilter) -> LessonQuerySet:
    """Return the lessons that the filter lets through, each with how often it was accepted and declined."""
    rows = show_tab(Lesson.objects.visible_to(actor), wanted.show)
    for word in wanted.words.split():
        found = Q(number__icontains=word) | Q(title__icontains=word) | Q(what_happened__icontains=word)
        rows = rows.filter(found | Q(why__icontains=word) | Q(what_to_do__icontains=word))
    standing = Q(uses__state="standing")
    return (
        rows.order_by("-written_at", "-pk")
        .select_related("anomaly", "activity", "author")
        .annotate(
            accepted=Count("uses", filter=standing & Q(uses__decision="accepted"), distinct=True),
            declined=Count("uses", filter=standing & Q(uses__decision="declined"), distinct=True),
            changed_count=Count(
                "uses",
                filter=standing
                & Q(uses__decision="accepted")
                & (
                    Q(uses__changed_revision__isnull=False)
                    | Q(uses__changed_requirement__isnull=False)
                    | Q(uses__changed_action__isnull=False)
                ),
                distinct=True,
            ),
        )
    )


def count_tabs(actor: Actor) -> list[tuple[str, str, int]]:
    """Return name, label and number of lessons of each tab."""
    rows = Lesson.objects.visible_to(actor)
    return [(name, label, show_tab(rows, name).count()) for name, label in TABS.items()]


def write_row(lesson: Lesson) -> list[Any]:
    """Return the cells of HEADER."""
    changed = [str(use.changed) for use in lesson.uses.applied()]
    places = "; ".join(str(place) for place in lesson.places.filter(active=True))
    told = (lesson.what_happened, lesson.why, lesson.what_to_do)
    return [lesson.number, lesson.title, lesson.state, str(lesson.origin), *told, places, "; ".join(changed)]


@dataclass(frozen=True, slots=True)
class LessonView:
    """What the page of a lesson shows."""

    lesson: Lesson
    places: tuple[Any, ...]
    uses: tuple[LessonUse, ...]
    withdrawn: tuple[LessonUse, ...]
    events: list[Event]
    is_applied: bool
    origin_reopened: bool


def read_lesson(lesson: Lesson) -> LessonView:
    """Return it all."""
    places = lesson.places.filter(active=True).select_related("hardware_type", "procedure")
    uses = list(
        lesson.uses.select_related(
            *("lesson", "anomaly", "activity", "procedure", "decided_by"),
            *("changed_revision__procedure", "changed_requirement", "changed_action"),
        )
    )
    return LessonView(
        lesson,
        tuple(places),
        tuple(use for use in uses if use.state == "standing"),
        tuple(use for use in uses if use.state != "standing"),
        read_history(lesson, parts=[lesson.places.all(), lesson.uses.all()]),
        lesson.state == LessonState.ISSUED and any(use.changed for use in uses if use.state == "standing"),
        bool(lesson.anomaly and lesson.anomaly.state != AnomalyState.CLOSED),
    )
