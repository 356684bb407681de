"""Top event and evidence by enumeration: exact fractions over all states of the basic events."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from fractions import Fraction

from faulttree.engine.diagnosis.pieces import Piece
from faulttree.engine.model import Model, Number
from tests.engine.models import evaluate_formula

State = dict[str, bool]


class Joint:
    """Weights of all states of a small model; `names` are the basic events that count."""

    def __init__(self, model: Model, top: str, names: Sequence[str]) -> None:
        self.model, self.top, self.names = model, top, tuple(names)
        self.p = {name: Fraction(_number(model, name)) for name in names}

    def is_true(self, name: str, state: State) -> bool:
        """Truth of an event or gate."""
        return state[name] if name in state else evaluate_formula(self.model, self.model.gates[name].formula, state)

    def weigh(self, pieces: Sequence[Piece], test: Callable[[State], bool] = lambda state: True) -> Fraction:
        """Sum of P(state) x likelihood of the pieces, over states with the top event that pass the test."""
        total = Fraction(0)
        for values in itertools.product((False, True), repeat=len(self.names)):
            state = dict(zip(self.names, values, strict=True))
            weight = Fraction(1)
            for name, occurred in state.items():
                weight *= self.p[name] if occurred else 1 - self.p[name]
            if weight and self.is_true(self.top, state) and test(state):
                total += weight * math.prod((self.likelihood(p, state) for p in pieces), start=Fraction(1))
        return total

    def likelihood(self, piece: Piece, state: State) -> Fraction:
        """Up to a factor per piece: (L, 1) for a finite ratio, (1, 0) for "occurred"."""
        occurred = self.is_true(piece.target, state)
        if math.isinf(piece.ratio):
            return Fraction(occurred)
        return Fraction(piece.ratio) if occurred else Fraction(1)

    def find_posterior(self, pieces: Sequence[Piece], name: str) -> float:
        """P(name | top, pieces)."""
        return float(self.weigh(pieces, lambda state: self.is_true(name, state)) / self.weigh(pieces))

    def prior(self, name: str) -> float:
        """P(name) with nothing known."""
        total = Fraction(0)
        for values in itertools.product((False, True), repeat=len(self.names)):
            state = dict(zip(self.names, values, strict=True))
            if self.is_true(name, state):
                total += math.prod((self.p[n] if on else 1 - self.p[n] for n, on in state.items()), start=Fraction(1))
        return float(total)


def _number(model: Model, name: str) -> float:
    expression = model.basic_events[name].expression
    assert isinstance(expression, Number)
    return expression.value
