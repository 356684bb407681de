"""What trends are counted from, read in a fixed number of queries however long the log is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeAlias

from django.db.models import F

from anomalies.clock import now
from anomalies.models import (
    Activity,
    ActivityHardware,
    Anomaly,
    AnomalyHardware,
    AnomalyLink,
    Cause,
    HardwareType,
    Installation,
    LedgerEntry,
)
from anomalies.reads.exposure import COUNTED, OVER
from anomalies.reads.trends.filter import TrendFilter
from anomalies.states import ActivityState
from config.kit.permissions import Actor

Closed: TypeAlias = tuple[datetime, datetime | None]


@dataclass(frozen=True, slots=True)
class Case:
    """An anomaly that counts. severity : 0 where it isn't assessed; kind : of its activity, empty without one."""

    pk: int
    number: str
    title: str
    occurred_at: datetime
    reported_at: datetime
    screened_at: datetime | None
    closed_at: datetime | None
    state: str
    severity: int
    activity: int | None
    kind: str
    systems: frozenset[int]


@dataclass(frozen=True, slots=True)
class Outing:
    """An activity that is over, or under way: then `end` is now. systems : types of hardware it used."""

    pk: int
    title: str
    kind: str
    start: datetime
    end: datetime
    systems: frozenset[int]

    @property
    def hours(self) -> float:
        """How long it took, so far."""
        return (self.end - self.start).total_seconds() / 3600.0


@dataclass(frozen=True, slots=True)
class ConfirmedCause:
    """A cause that is confirmed, of an anomaly that counts."""

    pk: int
    anomaly: int
    kind: str
    judged_at: datetime | None


@dataclass(frozen=True, slots=True)
class Facts:
    """All of it, or what a filter leaves.

    duplicates : anomalies that are left out, as each is a duplicate of another one
    repeats : (recurrence, what it is a recurrence of), by key
    closings : anomaly -> from when to when it was closed, each time; None while it still is
    """

    now: datetime
    cases: tuple[Case, ...]
    outings: tuple[Outing, ...]
    causes: tuple[ConfirmedCause, ...]
    duplicates: tuple[Case, ...]
    repeats: tuple[tuple[int, int], ...]
    closings: Mapping[int, tuple[Closed, ...]]
    systems: Mapping[int, str]

    def narrow(self, wanted: TrendFilter) -> Facts:
        """Return what the filter leaves: anomalies, and the activities that expose what it names."""

        def fits(case: Case) -> bool:
            return (
                (not wanted.system or int(wanted.system) in case.systems)
                and (not wanted.kind or case.kind == wanted.kind)
                and (not wanted.severity or case.severity == int(wanted.severity))
            )

        cases = tuple(case for case in self.cases if fits(case))
        kept = {case.pk for case in cases}
        return Facts(
            self.now,
            cases,
            tuple(self.expose(system=wanted.system, kind=wanted.kind)),
            tuple(cause for cause in self.causes if cause.anomaly in kept),
            tuple(case for case in self.duplicates if fits(case)),
            tuple(pair for pair in self.repeats if pair[0] in kept),
            self.closings,
            self.systems,
        )

    def expose(self, *, system: str = "", kind: str = "") -> Iterable[Outing]:
        """Return the activities of a kind that used a system."""
        return (
            outing
            for outing in self.outings
            if (not kind or outing.kind == kind) and (not system or int(system) in outing.systems)
        )


def read_facts(actor: Actor) -> Facts:
    """Return everything that counts, of what the person may see."""
    at = now()
    doubles = AnomalyLink.objects.standing().filter(kind=AnomalyLink.Kind.DUPLICATE).values_list("source", flat=True)
    again = AnomalyLink.objects.standing().filter(kind=AnomalyLink.Kind.RECURRENCE).order_by("pk")
    duplicates = set(doubles)
    cases = _read_cases(actor)
    return Facts(
        at,
        tuple(case for case in cases if case.pk not in duplicates),
        _read_outings(actor, at),
        tuple(
            ConfirmedCause(*row)
            for row in Cause.objects.visible_to(actor)
            .confirmed()
            .order_by("pk")
            .values_list("pk", "anomaly_id", "kind", "judged_at")
        ),
        tuple(case for case in cases if case.pk in duplicates),
        tuple(again.values_list("source", "target")),
        _read_closings(),
        {kind.pk: str(kind) for kind in HardwareType.objects.visible_to(actor)},
    )


def _read_cases(actor: Actor) -> list[Case]:
    systems: dict[int, set[int]] = defaultdict(set)
    concerned = AnomalyHardware.objects.filter(active=True).values_list("anomaly", "item__type").distinct()
    for anomaly, kind in concerned:
        systems[anomaly].add(kind)
    rows = Anomaly.objects.visible_to(actor).filter(state__in=COUNTED).order_by("occurred_at", "pk")
    names = ("pk", "number", "title", "occurred_at", "reported_at", "screened_at", "closed_at", "state", "severity")
    found: Iterable[tuple[Any, ...]] = rows.values_list(*names, "activity_id", "activity__kind")
    return [
        Case(*(*told, severity or 0, activity, kind or "", frozenset(systems.get(told[0], ()))))
        for *told, severity, activity, kind in found
    ]


def _read_outings(actor: Actor, at: datetime) -> tuple[Outing, ...]:
    used: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for activity, item, kind in ActivityHardware.objects.filter(active=True).values_list(
        "activity", "item", "item__type"
    ):
        used[activity].append((item, kind))
    inside: dict[int, list[tuple[int, int, datetime, datetime | None]]] = defaultdict(list)
    parts = Installation.objects.values_list("parent", "item", "item__type", "installed_at", "removed_at")
    for parent, item, kind, since, until in parts:
        inside[parent].append((item, kind, since, until))
    rows = Activity.objects.visible_to(actor).filter(actual_start__isnull=False, actual_start__lte=at)
    over = rows.filter(state__in=OVER, actual_end__isnull=False) | rows.filter(state=ActivityState.UNDER_WAY)
    found = over.annotate(began=F("actual_start")).order_by("actual_start", "pk")
    return tuple(
        Outing(pk, title, kind, began, end or at, _find_systems(used.get(pk, []), inside, began))
        for pk, title, kind, began, end in found.values_list("pk", "title", "kind", "began", "actual_end")
    )


def _find_systems(
    used: Iterable[tuple[int, int]],
    inside: Mapping[int, list[tuple[int, int, datetime, datetime | None]]],
    at: datetime,
) -> frozenset[int]:
    """Return the types of items and of all that was installed in them at the moment."""
    left, seen, kinds = list(used), set(), set()
    while left:
        item, kind = left.pop()
        if item in seen:
            continue
        seen.add(item)
        kinds.add(kind)
        left += [
            (part, part_kind)
            for part, part_kind, since, until in inside.get(item, ())
            if since <= at and (until is None or until > at)
        ]
    return frozenset(kinds)


def _read_closings() -> dict[int, tuple[Closed, ...]]:
    """Return when each anomaly was closed: one that was opened again no longer says so itself, the ledger does."""
    found: dict[int, list[Closed]] = defaultdict(list)
    moves = LedgerEntry.objects.filter(kind=Anomaly.KIND, action__in=("anomaly.close", "anomaly.reopen"))
    for record, action, at in moves.order_by("sequence").values_list("record_id", "action", "at"):
        if action == "anomaly.close":
            found[record].append((at, None))
        elif found[record]:
            found[record][-1] = (found[record][-1][0], at)
    return {record: tuple(spans) for record, spans in found.items()}
