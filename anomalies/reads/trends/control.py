"""The control chart of anomalies per exposure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from anomalies.reads.trends.periods import ROUNDING, Row
from faulttree.facade import BadModel, Chart, ChartPoint, Signal, make_u_chart

RULES = {
    Signal.ABOVE: "Rule 1, above the upper limit",
    Signal.BELOW: "Rule 1, below the lower limit",
    Signal.RUN: "Rule 2, nine in a row on one side of the centre line",
}


@dataclass(frozen=True, slots=True)
class Charted:
    """A period that has exposure, and its point."""

    row: Row
    point: ChartPoint

    @property
    def rule(self) -> str:
        """Which rule it breaks; empty for none."""
        return RULES[self.point.signal] if self.point.signal else ""


@dataclass(frozen=True, slots=True)
class Control:
    """The chart, or why there's none. bare : periods without exposure, which it leaves out."""

    chart: Chart | None
    why_not: str
    points: tuple[Charted, ...]
    bare: tuple[Row, ...]

    @property
    def signals(self) -> list[Charted]:
        """The points that call for a look."""
        return [each for each in self.points if each.rule]

    @property
    def orphans(self) -> int:
        """Anomalies of the periods that are left out."""
        return sum(row.count for row in self.bare)


def chart_rows(rows: Sequence[Row]) -> Control:
    """Return the control chart of the periods."""
    used = [row for row in rows if row.exposure > ROUNDING]
    bare = tuple(row for row in rows if row.exposure <= ROUNDING)
    try:
        chart = make_u_chart([row.count for row in used], [row.exposure for row in used])
    except BadModel as error:
        words = " ".join(f"{problem.message} {problem.mend}" for problem in error.problems)
        return Control(None, words.replace("events", "anomalies"), (), bare)
    points = tuple(Charted(row, point) for row, point in zip(used, chart.points, strict=True))
    return Control(chart, "", points, bare)
