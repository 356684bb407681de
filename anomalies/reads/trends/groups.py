"""The same periods, for each system, kind of activity or severity by itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from anomalies.reads.trends.facts import Case, Facts, Outing
from anomalies.reads.trends.filter import KINDS, SEVERITIES
from anomalies.reads.trends.periods import Row, count_rows

NONE_NAMED = "none"


@dataclass(frozen=True, slots=True)
class Group:
    """One of them: all of its periods, and the sum. Its exposure is that of the activities that expose it."""

    key: str
    label: str
    rows: tuple[Row, ...]
    whole: Row


def split_rows(facts: Facts, split: str, period: str, measure: str) -> list[Group]:
    """Return the groups with most anomalies first; those without any are left out.

    An anomaly counts in each system it names, so the groups of systems can add up to more than all anomalies.
    """
    groups = []
    for key, label, cases, outings in _divide(facts, split):
        if not cases:
            continue
        rows = tuple(count_rows(facts, cases, outings, period, measure))
        exposure = sum(each.hours for each in outings) if measure == "hours" else float(len(outings))
        groups.append(Group(key, label, rows, Row(key, label, exposure, tuple(case.pk for case in cases))))
    return sorted(groups, key=lambda group: (-group.whole.count, group.label))


def _divide(facts: Facts, split: str) -> Iterator[tuple[str, str, list[Case], list[Outing]]]:
    if split == "system":
        for pk, name in facts.systems.items():
            cases = [case for case in facts.cases if pk in case.systems]
            yield str(pk), name, cases, list(facts.expose(system=str(pk)))
        yield NONE_NAMED, "No hardware named", [case for case in facts.cases if not case.systems], []
    elif split == "kind":
        for kind, name in KINDS.items():
            yield kind, name, [case for case in facts.cases if case.kind == kind], list(facts.expose(kind=kind))
        yield NONE_NAMED, "During no activity", [case for case in facts.cases if not case.kind], []
    elif split == "severity":
        for level, name in SEVERITIES.items():
            yield level, name, [case for case in facts.cases if case.severity == int(level)], list(facts.outings)
