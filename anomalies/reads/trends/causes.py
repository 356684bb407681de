"""Which causes are confirmed most often: counts in falling order, with their cumulative share."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from anomalies.models import Cause
from anomalies.reads.trends.facts import Facts
from anomalies.reads.trends.groups import NONE_NAMED

CAUSE_KINDS = dict(Cause.Kind.choices)


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A kind of cause or a system. share, cumulative : of all that is counted; causes : their keys."""

    key: str
    label: str
    causes: tuple[int, ...]
    share: float
    cumulative: float

    @property
    def count(self) -> int:
        """How many confirmed causes."""
        return len(self.causes)


def count_causes(facts: Facts, by: str) -> list[CauseRow]:
    """Return the rows, the largest first. By system a cause counts in each system that its anomaly names."""
    systems = {case.pk: case.systems for case in (*facts.cases, *facts.duplicates)}
    found: dict[tuple[str, str], list[int]] = defaultdict(list)
    for cause in facts.causes:
        if by == "kind":
            found[cause.kind, CAUSE_KINDS[cause.kind]].append(cause.pk)
            continue
        named = systems.get(cause.anomaly) or ()
        for system in named:
            found[str(system), facts.systems.get(system, "A system you may not see")].append(cause.pk)
        if not named:
            found[NONE_NAMED, "No hardware named"].append(cause.pk)
    total = sum(map(len, found.values()))
    rows, passed = [], 0
    for (key, label), causes in sorted(found.items(), key=lambda each: (-len(each[1]), each[0][1])):
        passed += len(causes)
        rows.append(CauseRow(key, label, tuple(causes), len(causes) / total, passed / total))
    return rows
