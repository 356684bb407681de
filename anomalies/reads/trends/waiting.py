"""How long anomalies wait to be screened, explained and closed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from anomalies.models import Cause
from anomalies.reads.trends.facts import Case, Facts
from anomalies.states import AnomalyState
from faulttree.facade import Waiting, estimate_waiting

EXPLAINING = (Cause.Kind.ROOT, Cause.Kind.PROXIMATE)
DAY = 86_400.0
LABELS = {
    "screen": "From report to screening",
    "cause": "From report to the first confirmed cause",
    "close": "From report to closing",
}


@dataclass(frozen=True, slots=True)
class Wait:
    """One way; days.

    done : keys of those that got there; waiting : of those that still wait
    ended : of those that closed without getting there; they count as longer than up to their closing
    figures : None without any anomaly
    """

    key: str
    label: str
    figures: Waiting | None
    done: tuple[int, ...]
    waiting: tuple[int, ...]
    ended: tuple[int, ...]
    longest: float | None

    @property
    def what(self) -> str:
        """What an address calls its records."""
        return "explained" if self.key == "cause" else self.key


def read_waits(facts: Facts) -> list[Wait]:
    """Return all three, each from the moment of the report."""
    first: dict[int, datetime] = {}
    for cause in facts.causes:
        if cause.kind in EXPLAINING and cause.judged_at is not None:
            first[cause.anomaly] = min(first.get(cause.anomaly, cause.judged_at), cause.judged_at)
    cases = facts.cases
    return [
        _measure("screen", facts, ((case, case.screened_at) for case in cases)),
        _measure("cause", facts, ((case, first.get(case.pk)) for case in cases)),
        _measure("close", facts, ((case, case.closed_at) for case in cases)),
    ]


def _measure(key: str, facts: Facts, rows: Iterable[tuple[Case, datetime | None]]) -> Wait:
    done: dict[int, float] = {}
    waiting: dict[int, float] = {}
    ended: dict[int, float] = {}
    for case, reached in rows:
        if reached is not None:
            done[case.pk] = _days(case.reported_at, reached)
        elif case.state == AnomalyState.CLOSED and case.closed_at is not None:
            ended[case.pk] = _days(case.reported_at, case.closed_at)
        else:
            waiting[case.pk] = _days(case.reported_at, facts.now)
    figures = estimate_waiting(list(done.values()), [*waiting.values(), *ended.values()])
    longest = max(waiting.values(), default=None)
    return Wait(key, LABELS[key], figures, tuple(done), tuple(waiting), tuple(ended), longest)


def _days(start: datetime, end: datetime) -> float:
    return max((end - start).total_seconds(), 0.0) / DAY
