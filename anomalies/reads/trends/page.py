"""All figures of the trends page, gathered."""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.reads.trends.causes import CauseRow, count_causes
from anomalies.reads.trends.control import Control, chart_rows
from anomalies.reads.trends.facts import Case, Facts, read_facts
from anomalies.reads.trends.filter import TrendFilter
from anomalies.reads.trends.groups import Group, split_rows
from anomalies.reads.trends.growth import Trend, read_trend
from anomalies.reads.trends.overdue import Overdue, list_overdue
from anomalies.reads.trends.periods import Row, count_rows
from anomalies.reads.trends.recurrences import Recurrences, read_recurrences
from anomalies.reads.trends.waiting import Wait, read_waits
from config.kit.permissions import Actor

CAUTION = (
    "Decision support only: every figure counts what was recorded, and holds under the assumptions that its "
    "explanation names. The programme's safety authority and licensed practice decide."
)


@dataclass(frozen=True, slots=True)
class Trends:
    """What the page shows. facts : what the filter leaves; systems : those that anomalies name, for choosing."""

    wanted: TrendFilter
    facts: Facts
    systems: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    whole: Row
    groups: tuple[Group, ...]
    unplaced: tuple[Case, ...]
    trend: Trend
    control: Control
    recurrences: Recurrences
    waits: tuple[Wait, ...]
    overdue: tuple[Overdue, ...]
    causes: tuple[CauseRow, ...]

    @property
    def has_bare(self) -> bool:
        """Some period has no exposure."""
        return any(row.rate is None for rows in (self.rows, *(group.rows for group in self.groups)) for row in rows)

    @property
    def cause_count(self) -> int:
        """Confirmed causes, as counted in the rows."""
        return sum(row.count for row in self.causes)


def read_trends(actor: Actor, wanted: TrendFilter) -> Trends:
    """Return every figure, of what the person may see; the number of queries doesn't depend on the log."""
    everything = read_facts(actor)
    facts = everything.narrow(wanted)
    rows = count_rows(facts, facts.cases, facts.outings, wanted.period, wanted.measure)
    in_rows = {case for row in rows for case in row.cases}
    exposure = sum(each.hours for each in facts.outings) if wanted.measure == "hours" else float(len(facts.outings))
    named = {system for case in everything.cases for system in case.systems}
    return Trends(
        wanted,
        facts,
        tuple((str(pk), name) for pk, name in everything.systems.items() if pk in named),
        tuple(rows),
        Row("", "All", exposure, tuple(case.pk for case in facts.cases)),
        tuple(split_rows(facts, wanted.split, wanted.period, wanted.measure)) if wanted.split else (),
        tuple(case for case in facts.cases if case.pk not in in_rows),
        read_trend(facts, wanted),
        chart_rows(rows),
        read_recurrences(facts, everything, wanted),
        tuple(read_waits(facts)),
        tuple(list_overdue(actor, facts)),
        tuple(count_causes(facts, wanted.causes_by)),
    )
