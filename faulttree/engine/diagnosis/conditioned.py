"""A tree under evidence: built once, evaluated for any part of the evidence.

The function is "top event and what is said of gates". A piece on a gate g with ratio L has a variable v of its own:
for L <= 1 the clause "not g or v" with P(v) = L, else "g or v" with P(v) = 1/L. Then P(clause | g) : P(clause | not g)
is L : 1, so conditioning on the clause is conditioning on the evidence. A piece that isn't counted has P(v) = 1. A
piece on a basic event changes its probability instead. All terms stay sums of products of non-negative numbers.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from faulttree.engine.analysis.probability import Valuation, Vector, condition, evaluate
from faulttree.engine.budget import Watch
from faulttree.engine.diagnosis.pieces import Piece, weigh
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.polarity import is_plainly_monotone
from faulttree.engine.model import BasicEvent, Combination, Connective, Gate, Model, Number, Reference
from faulttree.engine.problems import suggest_name

MARK = "\0"  # no name of a model holds it
ROOT = f"{MARK}root"
FEW_DIGITS = 1e-6
"""Below this a conditional probability that was found by subtraction may lack digits."""


@dataclass(frozen=True)
class Conditioned:
    """A top event and pieces of evidence, solved.

    pieces : in the caller's order; what counts is chosen by their places
    priors : name -> probability of each basic event
    monotone : no negation is left in the function, so that no digits cancel where it is conditioned
    """

    pieces: tuple[Piece, ...]
    solution: Solution
    priors: dict[str, float]
    monotone: bool

    @cached_property
    def places(self) -> dict[str, int]:
        """Variable of each name."""
        return {name: i for i, name in enumerate(self.solution.variables)}

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Basic events, in the order of the solution."""
        return tuple(name for name in self.solution.variables if name in self.priors)

    def weigh(self, counted: Collection[int]) -> Vector | None:
        """Return float64[V], the probabilities that the counted pieces leave; None where they can't all be true."""
        p = np.array([self.priors.get(name, 1.0) for name in self.solution.variables])
        ratios: dict[str, list[float]] = {}
        for place in counted:
            piece = self.pieces[place]
            if piece.target in self.priors:
                ratios.setdefault(piece.target, []).append(piece.ratio)
            elif piece.ratio != 1.0:
                own = self.places.get(_own(place))
                if own is not None:
                    p[own] = min(piece.ratio, 1.0 / piece.ratio if piece.ratio else 0.0)
        for name, found in ratios.items():
            weighted = weigh(self.priors[name], found)
            if weighted is None:
                return None
            p[self.places[name]] = weighted
        return p

    def is_possible(self, counted: Collection[int]) -> bool:
        """Tell whether top event and counted pieces can be true together; small numbers don't matter."""
        p = self.weigh(counted)
        if p is None:
            return False
        return evaluate(self.solution, np.where((p > 0.0) & (p < 1.0), 0.5, p)).holds > 0.0

    def evaluate(self, p: Vector) -> Valuation:
        """Return the probability of top event and evidence; raises BadModel where it's too small for a number."""
        valuation = evaluate(self.solution, p)
        if valuation.holds <= 0.0:
            message = "Top event and evidence together are too improbable to be computed with."
            raise BadModel(Problem(message, "Check the probabilities of the tree.", "evidence"))
        return valuation

    def find_events(self, p: Vector) -> dict[str, float]:
        """Return the probability of each basic event given top event and evidence: p P(root | event) / P(root)."""
        valuation = self.evaluate(p)
        given, _ = condition(self.solution, p, valuation)
        if not self.monotone:
            for place in np.flatnonzero(given < FEW_DIGITS):
                given[place] = self._evaluate_given(p, int(place))
        posterior = np.minimum(p * given / valuation.holds, 1.0)
        return {name: float(posterior[self.places[name]]) for name in self.names}

    def _evaluate_given(self, p: Vector, place: int) -> float:
        certain = p.copy()
        certain[place] = 1.0
        return evaluate(self.solution, certain).holds


def build(model: Model, top: str, pieces: Sequence[Piece], mission_time: float | None, watch: Watch) -> Conditioned:
    """Solve a model, its common-cause groups written out, for a top event and evidence; raises BadModel, LimitReached.

    mission_time : hours
    """
    for piece in pieces:
        _check_target(model, piece)
    gates, events = dict(model.gates), dict(model.basic_events)
    clauses: list[Reference | Combination] = [Reference(top)]
    for place, piece in enumerate(pieces):
        if piece.target in model.gates and piece.ratio != 1.0:
            own, target = Reference(_own(place)), Reference(piece.target)
            events[own.name] = BasicEvent(own.name, Number(1.0))
            against = target if piece.ratio > 1.0 else Combination(Connective.NOT, (target,))
            clauses.append(Combination(Connective.OR, (against, own)))
        elif piece.target in model.basic_events:
            always = Combination(Connective.NOT, (Reference(piece.target),))  # keeps it a variable of the function
            clauses.append(Combination(Connective.OR, (Reference(piece.target), always)))
    gates[ROOT] = Gate(ROOT, Combination(Connective.AND, tuple(clauses)))
    netlist = compile_model(replace(model, gates=gates, basic_events=events), ROOT)
    names = tuple(name for name in netlist.variables if not name.startswith(MARK))
    values = EventTable(model, names).probabilities(mission_time)
    priors = dict(zip(names, values.tolist(), strict=True))
    return Conditioned(tuple(pieces), solve(netlist, watch), priors, is_plainly_monotone(netlist))


def _own(place: int) -> str:
    return f"{MARK}{place}"


def _check_target(model: Model, piece: Piece) -> None:
    name = piece.target
    if name in model.house_events:
        message = f"{name} is a house event, which is set and has no probability."
        raise BadModel(Problem(message, "Set it in the tree, or take the piece back.", "evidence"))
    known = {**model.gates, **model.basic_events}
    if name not in known:
        raise BadModel(Problem(f"There is no gate or basic event {name}.", suggest_name(name, known), "evidence"))
    if not piece.ratio >= 0.0:
        raise BadModel(Problem(f"The likelihood ratio on {name} is {piece.ratio:g}.", "Give 0 or more.", "evidence"))
