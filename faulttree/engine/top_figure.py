"""The probability of a top event and nothing else: for figures beside other things, where it must be quick."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from faulttree.engine.analysis.probability import evaluate
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams.solution import solve
from faulttree.engine.errors import LimitReached
from faulttree.engine.model import Model
from faulttree.engine.request import Request
from faulttree.engine.run import prepare_run
from faulttree.engine.truncation.bracket import bracket
from faulttree.engine.truncation.refinement import Wanted

EXACT_SHARE = 0.5  # of the seconds; the rest is kept for a bracket


@dataclass(frozen=True, slots=True)
class TopFigure:
    """`probability` where `method` is "exact"; for a "bracket" it is None, and lies between `lower` and `upper`."""

    method: str
    probability: float | None = None
    lower: float | None = None
    upper: float | None = None

    def to_plain(self) -> dict[str, Any]:
        """Return what JSON can hold."""
        return asdict(self)

    @classmethod
    def from_plain(cls, data: Mapping[str, Any]) -> TopFigure:
        """Return what `to_plain` wrote."""
        return cls(data["method"], data["probability"], data["lower"], data["upper"])


def find_top_figure(model: Model, top: str, mission_time: float | None, *, budget: Budget) -> TopFigure:
    """Return the probability of a top event at a mission time (hours), exact within half of the budget's seconds.

    Past the budget a certified bracket. Raises BadModel for numbers that can't be used, LimitReached where even a
    bracket takes too long.
    """
    watch = Watch(budget)
    run = prepare_run(model, Request(top=top, mission_time=mission_time, list_count=0), watch)
    half = None if budget.seconds is None else budget.seconds * EXACT_SHARE
    try:
        solution = solve(run.netlist, replace(watch, budget=replace(budget, seconds=half)))
        return TopFigure("exact", evaluate(solution, run.p).holds)
    except LimitReached:
        found = bracket(run.netlist, run.p, run.watch, Wanted(0, None, 0.0))
        return TopFigure("bracket", None, found.lower, found.upper)
