"""Anomalies that came back after they had been closed, and how long that took."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from anomalies.reads.trends.axis import Axis
from anomalies.reads.trends.facts import Case, Closed, Facts
from anomalies.reads.trends.filter import TrendFilter


@dataclass(frozen=True, slots=True)
class Repeat:
    """`again` is `first` once more, so long after it was closed the last time."""

    again: Case
    first: Case
    closed_at: datetime
    days: float
    exposure: float


@dataclass(frozen=True, slots=True)
class Recurrences:
    """repeats : after a closing, the shortest time first
    while_open : recurrences of something that wasn't closed when it occurred again
    closed : anomalies that were ever closed, also if they are open again; returned : those of them that came back
    """

    repeats: tuple[Repeat, ...]
    while_open: tuple[Case, ...]
    closed: tuple[int, ...]
    returned: tuple[int, ...]

    @property
    def share(self) -> float | None:
        """Which part of what was closed came back; None before anything was closed."""
        return len(self.returned) / len(self.closed) if self.closed else None


def read_recurrences(facts: Facts, everything: Facts, wanted: TrendFilter) -> Recurrences:
    """Return the recurrences among `facts`; what they are recurrences of may lie outside of it.

    Which anomalies were closed is counted within `facts`, so both counts are of what the filter leaves.
    """
    by_key = {case.pk: case for case in (*everything.cases, *everything.duplicates)}
    kept = {case.pk for case in facts.cases}
    ever = tuple(case.pk for case in facts.cases if case.pk in facts.closings)
    axis = Axis(facts.outings, wanted.measure)
    found, still_open, returned = [], [], set()
    for source, target in everything.repeats:
        again, first = by_key.get(source), by_key.get(target)
        if again is None or first is None:
            continue
        closed_at = _find_closing(facts.closings.get(target, ()), again)
        if closed_at is not None and target in kept:
            returned.add(target)
        if source not in kept:
            continue
        if closed_at is None:
            still_open.append(again)
            continue
        days = (again.occurred_at - closed_at).total_seconds() / 86_400.0
        found.append(Repeat(again, first, closed_at, days, axis.between(closed_at, again.occurred_at)))
    found.sort(key=lambda each: each.days)
    return Recurrences(tuple(found), tuple(still_open), ever, tuple(sorted(returned)))


def _find_closing(spans: Sequence[Closed], again: Case) -> datetime | None:
    """Return when the anomaly that was closed at the moment of a recurrence had been closed; None if it was open."""
    at = again.occurred_at
    return next((start for start, end in spans if start < at and (end is None or end > at)), None)
