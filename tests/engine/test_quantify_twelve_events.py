"""Random trees of up to twelve events against all 4,096 states at once, in arrays of floats."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from faulttree.engine.model import Combination, Connective, Formula, Model, Number, Reference, Truth
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.engine.models import random_models, top_of

SETTINGS = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


class States:
    """Every state of a model's basic events: who occurred, how likely, and what is true in it."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.names = tuple(model.basic_events)
        index = np.arange(2 ** len(self.names))
        self.occurred = {name: (index >> i & 1).astype(bool) for i, name in enumerate(self.names)}
        self.p = {name: _number(model, name) for name in self.names}
        self.weight = np.ones(len(index))
        for name in self.names:
            self.weight *= np.where(self.occurred[name], self.p[name], 1.0 - self.p[name])

    def value(self, formula: Formula) -> np.ndarray:
        """Truth of a formula in every state."""
        if isinstance(formula, Truth):
            return np.full(len(self.weight), formula.value)
        if isinstance(formula, Reference):
            return self.of(formula.name)
        assert isinstance(formula, Combination)
        values = [self.value(argument) for argument in formula.arguments]
        true = np.sum(values, axis=0)
        count = len(values)
        low, high = formula.low or 0, formula.high or 0
        return {
            Connective.AND: true == count,
            Connective.OR: true > 0,
            Connective.NOT: ~values[0],
            Connective.XOR: true % 2 == 1,
            Connective.IFF: (count - true) % 2 == 0,  # associative: an even number of arguments is false
            Connective.NAND: true < count,
            Connective.NOR: true == 0,
            Connective.IMPLY: ~values[0] | values[-1],
            Connective.ATLEAST: true >= low,
            Connective.CARDINALITY: (low <= true) & (true <= high),
        }[formula.connective]

    def of(self, name: str) -> np.ndarray:
        """Truth of a gate or event in every state."""
        if name in self.model.gates:
            return self.value(self.model.gates[name].formula)
        if name in self.model.house_events:
            return np.full(len(self.weight), self.model.house_events[name].value)
        return self.occurred[name]

    def probability(self, holds: np.ndarray) -> float:
        """Total weight of the states in which something holds."""
        return float(self.weight[holds].sum())

    def given(self, holds: np.ndarray, name: str, occurred: bool) -> float:
        """Probability that something holds when an event is set; works for events of probability 0 and 1 too."""
        others = np.ones(len(self.weight))
        for other in self.names:
            if other != name:
                others *= np.where(self.occurred[other], self.p[other], 1.0 - self.p[other])
        return float(others[holds & (self.occurred[name] == occurred)].sum())

    def minimal_sets(self, holds: np.ndarray) -> set[frozenset[str]]:
        """Minimal sets of occurrences among the states in which something holds."""
        kept: list[int] = []
        for state in sorted(np.flatnonzero(holds).tolist(), key=int.bit_count):
            if not any(small & state == small for small in kept):
                kept.append(state)
        return {frozenset(n for i, n in enumerate(self.names) if state >> i & 1) for state in kept}

    def some_set(self, sets: list[frozenset[str]]) -> np.ndarray:
        """States in which one of the sets has occurred."""
        found = np.zeros(len(self.weight), bool)
        for cut in sets:
            found |= np.all([self.occurred[name] for name in cut], axis=0)
        return found


def _number(model: Model, name: str) -> float:
    expression = model.basic_events[name].expression
    assert isinstance(expression, Number)
    return expression.value


@SETTINGS
@given(random_models(most_events=12))
def test_probability_and_cut_sets(model: Model) -> None:
    states = States(model)
    holds = states.of(top_of(model))
    result = quantify(model, Request(top=top_of(model), list_count=5_000))
    assert result.probability == pytest.approx(states.probability(holds), rel=1e-9, abs=1e-15)
    assert result.cut_sets is not None
    expected = states.minimal_sets(holds)
    assert result.cut_sets.count == len(expected)
    assert {frozenset(cut.events) for cut in result.cut_sets.listed} == expected


@SETTINGS
@given(random_models(coherent=True, most_events=12))
def test_importance(model: Model) -> None:
    states = States(model)
    holds = states.of(top_of(model))
    top = states.probability(holds)
    if top < 1e-12:
        return
    result = quantify(model, Request(top=top_of(model)))
    sets = states.minimal_sets(holds)
    products = {cut: float(np.prod([states.p[name] for name in cut])) for cut in sets}
    for name, measures in result.importance.items():
        one, zero = states.given(holds, name, True), states.given(holds, name, False)
        mine = [cut for cut in sets if name in cut]
        union = states.probability(states.some_set(mine)) / top
        assert measures.birnbaum == pytest.approx(one - zero, rel=1e-7, abs=1e-12)
        assert measures.criticality == pytest.approx((one - zero) * states.p[name] / top, rel=1e-7, abs=1e-9)
        assert measures.risk_achievement_worth == pytest.approx(one / top, rel=1e-9)
        assert measures.diagnostic == pytest.approx(states.p[name] * one / top, rel=1e-8, abs=1e-12)
        assert measures.fussell_vesely_union == pytest.approx(union, rel=1e-8, abs=1e-12)
        share = sum(products[cut] for cut in mine) / sum(products.values())
        assert measures.fussell_vesely_rare_event == pytest.approx(share, rel=1e-9, abs=1e-12)


@SETTINGS
@given(random_models(most_events=12), st.data())
def test_posterior(model: Model, data: st.DataObject) -> None:
    states = States(model)
    pool = [*model.gates, *model.basic_events]
    evidence = data.draw(st.dictionaries(st.sampled_from(pool), st.booleans(), min_size=1, max_size=3))
    holds = states.of(top_of(model))
    for name, value in evidence.items():
        holds = holds & (states.of(name) == value)
    whole = states.probability(holds)
    if whole < 1e-12:
        return
    diagnosis = quantify(model, Request(top=top_of(model), evidence=evidence)).diagnosis
    assert diagnosis is not None
    assert diagnosis.evidence_probability == pytest.approx(whole, rel=1e-8)
    for name, posterior in diagnosis.posterior.items():
        joint = states.probability(holds & states.occurred[name])
        assert posterior == pytest.approx(joint / whole, rel=1e-7, abs=1e-9)
