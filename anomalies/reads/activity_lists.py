"""Activities as lists show them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, Q

from anomalies.models import Activity
from anomalies.models.activity import ActivityQuerySet
from anomalies.states import ActivityState
from config.kit.addresses import read_choice, read_text
from config.kit.permissions import Actor

SHOW: dict[str, tuple[str, tuple[str, ...]]] = {
    "": ("To come and under way", (ActivityState.PLANNED, ActivityState.UNDER_WAY)),
    "past": ("Past", (ActivityState.COMPLETED, ActivityState.ENDED_EARLY)),
    "scrubbed": ("Scrubbed", (ActivityState.SCRUBBED,)),
    "all": ("All", tuple(ActivityState.values)),
}
HEADER = ("title", "kind", "state", "lead", "planned start", "planned end", "actual start", "actual end", "reason")


@dataclass(frozen=True, slots=True)
class ActivityFilter:
    """What a list of activities shows."""

    show: str = ""
    kind: str = ""
    words: str = ""

    @classmethod
    def read(cls, query: Mapping[str, str]) -> ActivityFilter:
        """Return what the address asks for; what makes no sense is left out."""
        kind = read_choice(query, "kind", Activity.Kind.values)
        return cls(read_choice(query, "show", SHOW), kind, read_text(query))

    @property
    def query(self) -> str:
        """The address of the filter, ending in & unless it's empty."""
        given = {name: getattr(self, name) for name in self.__slots__ if getattr(self, name)}
        return f"{urlencode(given)}&" if given else ""


def find_activities(actor: Actor, wanted: ActivityFilter) -> ActivityQuerySet:
    """Return the activities that the filter lets through: the next one first, past ones the latest first."""
    rows = Activity.objects.visible_to(actor).filter(state__in=SHOW[wanted.show][1])
    if wanted.kind:
        rows = rows.filter(kind=wanted.kind)
    for word in wanted.words.split():
        rows = rows.filter(Q(title__icontains=word) | Q(state_reason__icontains=word))
    order = ("planned_start", "pk") if wanted.show == "" else ("-planned_start", "-pk")
    return rows.select_related("lead").annotate(troubles=Count("anomalies")).order_by(*order)


def count_tabs(actor: Actor) -> list[tuple[str, str, int]]:
    """Return name, label and number of activities of every tab."""
    visible = Activity.objects.visible_to(actor)
    return [(name, label, visible.filter(state__in=states).count()) for name, (label, states) in SHOW.items()]


def write_row(row: Activity) -> list[Any]:
    """Return the cells of HEADER."""
    return [
        row.title,
        row.get_kind_display(),
        row.get_state_display(),
        row.lead.username,
        row.planned_start,
        row.planned_end,
        row.actual_start,
        row.actual_end,
        row.state_reason,
    ]
