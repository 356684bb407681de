"""Which lessons are offered for an anomaly, an activity or a procedure, and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import Prefetch

from anomalies.likeness import Likeness, Match
from anomalies.models import Activity, Anomaly, HardwareItem, Lesson, LessonPlace, LessonUse, Procedure
from anomalies.models.base import Record
from anomalies.states import ActivityState, AnomalyState

ALIKE = 0.13
"""From this likeness of words on a lesson is offered: the largest at which none is missed in the half of our labelled
set that it was chosen on; tests/anomalies/test_likeness.py says what it misses in the other half.
"""
METHOD = (
    "Offered where its author says that it applies, or where its words are alike. Words know no meaning: a lesson in "
    "other words is missed. All lessons stand on their list."
)
TAKING = (ActivityState.PLANNED, ActivityState.UNDER_WAY)
WORKED_ON = (AnomalyState.REPORTED, AnomalyState.OPEN)


@dataclass(frozen=True, slots=True)
class Offered:
    """A lesson that is offered; `likeness` of words, 0 if it is offered for its places alone."""

    lesson: Lesson
    reasons: tuple[str, ...]
    likeness: float


@dataclass(frozen=True, slots=True)
class Offers:
    """What is offered at one place, the likeliest first, and what was decided there. `key` names the place in forms."""

    key: str
    offered: tuple[Offered, ...]
    decided: tuple[LessonUse, ...]
    method: str = METHOD

    @property
    def count(self) -> int:
        """How many wait for a decision."""
        return len(self.offered)


@dataclass(frozen=True, slots=True)
class Asked:
    """What of a place is compared: its words, and what lessons can be said to apply to."""

    text: str
    hardware_types: Mapping[int, str] = field(default_factory=dict)
    procedures: Mapping[int, str] = field(default_factory=dict)
    activity_kind: str = ""
    tasks: frozenset[str] = frozenset()


def read_offers(place: Anomaly | Activity | Procedure) -> Offers:
    """Return what is offered there; nothing any more once an anomaly is closed or an activity over."""
    column = {"anomaly": place} if isinstance(place, Anomaly) else {place.KIND: place}
    uses = (
        LessonUse.objects.standing()
        .filter(**column)
        .select_related("lesson", "decided_by", "changed_revision__procedure", "changed_requirement", "changed_action")
    )
    decided = tuple(uses.order_by("pk"))
    gone = {use.lesson_id for use in decided}
    offered = tuple(row for row in match_lessons(place) if row.lesson.pk not in gone) if takes_lessons(place) else ()
    return Offers(name_place(place), offered, decided)


def takes_lessons(place: Anomaly | Activity | Procedure) -> bool:
    """Tell whether something can still be changed there."""
    if isinstance(place, Anomaly):
        return place.state in WORKED_ON
    return not isinstance(place, Activity) or place.state in TAKING


def name_place(place: Record) -> str:
    """Return kind and key, as forms name a place."""
    return f"{place.KIND}-{place.pk}"


def match_lessons(place: Anomaly | Activity | Procedure) -> list[Offered]:
    """Return every issued lesson that bears on it, the likeliest first; those drawn from it are none."""
    asked = _ask(place)
    places = Prefetch("places", queryset=LessonPlace.objects.filter(active=True))
    lessons = list(Lesson.objects.issued().prefetch_related(places).order_by("pk"))
    matches = Likeness({lesson.pk: lesson.text for lesson in lessons}).compare(asked.text)
    found = []
    for lesson in lessons:
        if place.pk == getattr(lesson, f"{place.KIND}_id", None):
            continue  # it was drawn from it
        reasons = list(_list_reasons(lesson.places.all(), asked, matches.get(lesson.pk)))
        if reasons:
            match = matches.get(lesson.pk)
            found.append(Offered(lesson, tuple(reasons), match.score if match else 0.0))
    return sorted(found, key=lambda row: (-len(row.reasons), -row.likeness, row.lesson.pk))


def find_concerned(lesson: Lesson) -> set[int]:
    """Return the keys of those who lead an activity to come that the lesson is offered for."""
    coming = Activity.objects.filter(state__in=TAKING)
    return {each.lead_id for each in coming if any(row.lesson == lesson for row in match_lessons(each))}


def _list_reasons(places: Iterable[LessonPlace], asked: Asked, match: Match | None) -> Iterable[str]:
    for row in places:
        if row.hardware_type_id and row.hardware_type_id in asked.hardware_types:
            yield f"It applies to {asked.hardware_types[row.hardware_type_id]}."
        elif row.procedure_id and row.procedure_id in asked.procedures:
            yield f"It applies to {asked.procedures[row.procedure_id]}."
        elif row.activity_kind and row.activity_kind == asked.activity_kind:
            yield f"It applies to every {row.get_activity_kind_display().lower()}."
        elif row.task and " ".join(row.task.casefold().split()) in asked.tasks:
            yield f"It applies to the task “{row.task}”."
    if match is not None and match.score >= ALIKE:
        yield f"Words in common: {', '.join(match.words)} (likeness {match.score:.2f} of 1)."


def _ask(place: Anomaly | Activity | Procedure) -> Asked:
    if isinstance(place, Anomaly):
        return _ask_anomaly(place)
    return _ask_activity(place) if isinstance(place, Activity) else _ask_procedure(place)


def _ask_anomaly(anomaly: Anomaly) -> Asked:
    items = HardwareItem.objects.filter(anomaly_concerns__anomaly=anomaly, anomaly_concerns__active=True)
    told = (anomaly.title, anomaly.description, anomaly.place, anomaly.immediate_response)
    tasks = _fold(anomaly.activity.tasks) if anomaly.activity else frozenset[str]()
    return Asked("\n".join(told), _name_types(items), tasks=tasks)


def _ask_activity(activity: Activity) -> Asked:
    items = HardwareItem.objects.filter(activity_uses__activity=activity, activity_uses__active=True)
    used = Procedure.objects.filter(uses__activity=activity, uses__active=True)
    return Asked(
        "\n".join((activity.title, *activity.tasks)),
        _name_types(items),
        {row.pk: str(row) for row in used},
        activity.kind,
        _fold(activity.tasks),
    )


def _ask_procedure(procedure: Procedure) -> Asked:
    """Its newest revision counts, a draft too: that's what is being edited."""
    newest = procedure.revisions.exclude(state="withdrawn").order_by("-number").first()
    lines = [procedure.title, newest.summary if newest else ""]
    for step in newest.read_steps() if newest else ():
        lines += [*(notice.text for notice in step.notices), step.text]
    return Asked("\n".join(lines), procedures={procedure.pk: str(procedure)})


def _name_types(items: Iterable[HardwareItem]) -> dict[int, str]:
    rows = items.select_related("type") if hasattr(items, "select_related") else items
    return {item.type_id: str(item.type) for item in rows}


def _fold(tasks: Iterable[str]) -> frozenset[str]:
    return frozenset(" ".join(task.casefold().split()) for task in tasks)
