"""Anomalies per exposure, period by period."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from anomalies.reads.trends.axis import Axis
from anomalies.reads.trends.facts import Case, Facts, Outing

ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Row:
    """One period. key : names it in an address; cases : keys of its anomalies."""

    key: str
    label: str
    exposure: float
    cases: tuple[int, ...]

    @property
    def count(self) -> int:
        """How many anomalies."""
        return len(self.cases)

    @property
    def rate(self) -> float | None:
        """Anomalies per exposure; None without any."""
        return self.count / self.exposure if self.exposure > ROUNDING else None


def count_rows(facts: Facts, cases: Sequence[Case], outings: Sequence[Outing], period: str, measure: str) -> list[Row]:
    """Return every period from the first anomaly or activity of `facts` to now, the earliest first.

    By activity: one row for each, with the anomalies that name it; those that name none are in no row.
    """
    if period == "activity":
        return _count_by_activity(facts, cases, outings, measure)
    spans = list_spans(facts, period)
    axis = Axis(outings, measure)
    places = axis.places([start for _, _, start in spans] + [facts.now])
    found: dict[str, list[int]] = defaultdict(list)
    for case in cases:
        found[name_period(case.occurred_at, period)].append(case.pk)
    return [
        Row(key, label, places[n + 1] - places[n], tuple(found.get(key, ()))) for n, (key, label, _) in enumerate(spans)
    ]


def name_period(at: datetime, period: str) -> str:
    """Return the key of the period that a moment lies in (UTC)."""
    at = at.astimezone(UTC)
    return f"{at.year}" if period == "year" else f"{at.year}-Q{(at.month + 2) // 3}"


def list_spans(facts: Facts, period: str) -> list[tuple[str, str, datetime]]:
    """Return key, label and start of each quarter or year, without gaps."""
    moments = [case.occurred_at for case in facts.cases] + [outing.start for outing in facts.outings]
    if not moments:
        return []
    first, last = min(moments).astimezone(UTC), max(facts.now, *moments).astimezone(UTC)
    if period == "year":
        return [(f"{year}", f"{year}", datetime(year, 1, 1, tzinfo=UTC)) for year in range(first.year, last.year + 1)]
    quarters = range(first.year * 4 + (first.month - 1) // 3, last.year * 4 + (last.month - 1) // 3 + 1)
    return [
        (f"{n // 4}-Q{n % 4 + 1}", f"{n // 4} Q{n % 4 + 1}", datetime(n // 4, n % 4 * 3 + 1, 1, tzinfo=UTC))
        for n in quarters
    ]


def _count_by_activity(facts: Facts, cases: Sequence[Case], outings: Sequence[Outing], measure: str) -> list[Row]:
    """Return a row for each activity of `facts`; one that isn't among `outings` exposes nothing here."""
    exposed = {each.pk for each in outings}
    found: dict[int | None, list[int]] = defaultdict(list)
    for case in cases:
        found[case.activity].append(case.pk)
    return [
        Row(
            str(each.pk),
            each.title,
            (each.hours if measure == "hours" else 1.0) if each.pk in exposed else 0.0,
            tuple(found.get(each.pk, ())),
        )
        for each in facts.outings
    ]
