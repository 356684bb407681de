"""Random small trees: every exact figure against enumeration of all states in exact fractions."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from faulttree.engine.budget import Budget
from faulttree.engine.errors import BadModel
from faulttree.engine.model import Model, Number
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.results import Quantification
from tests.engine import oracle
from tests.engine.models import evaluate_formula, random_models, top_of

CLOSE = {"rel": 1e-9, "abs": 1e-15}
SETTINGS = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


class Truth:
    """What enumeration says of a model's top event."""

    def __init__(self, model: Model, names: tuple[str, ...]) -> None:
        self.names = names
        self.p = [Fraction(_number(model, name)) for name in names]
        formula = model.gates[top_of(model)].formula
        self.states = oracle.true_states(
            lambda state: evaluate_formula(model, formula, dict(zip(names, state, strict=True))), len(names)
        )
        self.probability = oracle.probability(self.states, self.p)
        self.cut_sets = {frozenset(names[i] for i in cut) for cut in oracle.minimal_sets(self.states)}

    def given(self, name: str, value: bool) -> Fraction:
        """P(top | event = value), with the event's own probability replaced."""
        i = self.names.index(name)
        p = list(self.p)
        p[i] = Fraction(value)
        return oracle.probability(self.states, p)

    def cut_probability(self, cut: frozenset[str]) -> Fraction:
        """Product of the probabilities of a set."""
        return math.prod((self.p[self.names.index(name)] for name in cut), start=Fraction(1))

    def union(self, cuts: list[frozenset[str]]) -> Fraction:
        """Probability that one of the sets occurs."""
        total = Fraction(0)
        for state in itertools.product((False, True), repeat=len(self.names)):
            occurred = {name for name, on in zip(self.names, state, strict=True) if on}
            if any(cut <= occurred for cut in cuts):
                total += oracle.weight(state, self.p)
        return total


def _number(model: Model, name: str) -> float:
    expression = model.basic_events[name].expression
    assert isinstance(expression, Number)
    return expression.value


def _quantify(model: Model, **request: object) -> tuple[Quantification, Truth]:
    result = quantify(model, Request(top=top_of(model), list_count=10_000, **request))  # type: ignore[arg-type]
    return result, Truth(model, tuple(result.importance))


@SETTINGS
@given(random_models())
def test_probability_and_cut_sets_agree_with_enumeration(model: Model) -> None:
    result, truth = _quantify(model)
    assert result.method == "exact"
    assert result.probability == pytest.approx(float(truth.probability), **CLOSE)
    assert result.cut_sets is not None
    assert result.cut_sets.count == len(truth.cut_sets)
    assert sum(result.cut_sets.by_order.values()) == len(truth.cut_sets)
    listed = {frozenset(cut.events): cut.probability for cut in result.cut_sets.listed}
    assert set(listed) == truth.cut_sets
    for cut, q in listed.items():
        assert q == pytest.approx(float(truth.cut_probability(cut)), **CLOSE)
    assert [c.probability for c in result.cut_sets.listed] == sorted((listed.values()), reverse=True)


@SETTINGS
@given(random_models())
def test_coherence_is_told_by_the_function_not_by_the_drawing(model: Model) -> None:
    result, truth = _quantify(model)
    true = set(truth.states)
    rising = all(
        (*state[:i], True, *state[i + 1 :]) in true for state in true for i in range(len(state)) if not state[i]
    )
    assert result.coherent == rising


@SETTINGS
@given(random_models(coherent=True))
def test_importance_agrees_with_enumeration(model: Model) -> None:
    result, truth = _quantify(model)
    assume(truth.probability > 0)
    top = truth.probability
    rare = sum((truth.cut_probability(cut) for cut in truth.cut_sets), Fraction(0))
    for name, measures in result.importance.items():
        p, one, zero = truth.p[truth.names.index(name)], truth.given(name, True), truth.given(name, False)
        containing = [cut for cut in truth.cut_sets if name in cut]
        share = sum((truth.cut_probability(cut) for cut in containing), Fraction(0)) / rare
        assert measures.birnbaum == pytest.approx(float(one - zero), rel=1e-7, abs=1e-13)
        assert measures.criticality == pytest.approx(float((one - zero) * p / top), rel=1e-7, abs=1e-12)
        assert measures.diagnostic == pytest.approx(float(one * p / top), rel=1e-9, abs=1e-15)
        assert measures.risk_achievement_worth == pytest.approx(float(one / top), rel=1e-9)
        if zero > top * Fraction(1, 10**6):
            assert measures.risk_reduction_worth == pytest.approx(float(top / zero), rel=1e-8)
        assert measures.fussell_vesely_union == pytest.approx(float(truth.union(containing) / top), rel=1e-9, abs=1e-15)
        assert measures.fussell_vesely_rare_event == pytest.approx(float(share), rel=1e-9, abs=1e-15)
        assert measures.diagnostic >= measures.fussell_vesely_union - 1e-9 >= measures.criticality - 2e-9


@SETTINGS
@given(random_models())
def test_sums_over_cut_sets_agree_with_enumeration(model: Model) -> None:
    result, truth = _quantify(model)
    cuts = [truth.cut_probability(cut) for cut in truth.cut_sets]
    assert result.rare_event == pytest.approx(float(sum(cuts, Fraction(0))), **CLOSE)
    if result.min_cut_upper_bound is not None:
        bound = 1 - math.prod((1 - cut for cut in cuts), start=Fraction(1))
        assert result.min_cut_upper_bound == pytest.approx(float(bound), rel=1e-9, abs=1e-15)


@SETTINGS
@given(random_models(), st.data())
def test_posterior_agrees_with_enumeration(model: Model, data: st.DataObject) -> None:
    names = data.draw(
        st.lists(st.sampled_from([*model.gates, *model.basic_events]), unique=True, max_size=3, min_size=1)
    )
    evidence = {name: data.draw(st.booleans()) for name in names}
    everything = tuple(model.basic_events)
    truth = Truth(model, everything)
    kept = [
        state
        for state in truth.states
        if all(
            _holds(model, name, dict(zip(everything, state, strict=True))) == value for name, value in evidence.items()
        )
    ]
    total = oracle.probability(kept, truth.p)
    if total == 0:
        with pytest.raises(BadModel, match="evidence"):
            quantify(model, Request(top=top_of(model), evidence=evidence))
        return
    diagnosis = quantify(model, Request(top=top_of(model), evidence=evidence)).diagnosis
    assert diagnosis is not None
    assert diagnosis.evidence_probability == pytest.approx(float(total), rel=1e-9, abs=1e-300)
    for name, posterior in diagnosis.posterior.items():
        i = everything.index(name)
        joint = oracle.probability([state for state in kept if state[i]], truth.p)
        assert posterior == pytest.approx(float(joint / total), rel=1e-7, abs=1e-9)


def _holds(model: Model, name: str, state: dict[str, bool]) -> bool:
    return evaluate_formula(model, model.gates[name].formula, state) if name in model.gates else state[name]


@SETTINGS
@given(random_models(most_events=6))
def test_prime_implicants_agree_with_enumeration(model: Model) -> None:
    result, truth = _quantify(model, prime_implicants=1000)
    true = set(truth.states)
    count = len(truth.names)
    implicants = []
    for pattern in itertools.product((None, True, False), repeat=count):
        cube = itertools.product(*((False, True) if value is None else (value,) for value in pattern))
        if all(state in true for state in cube):
            implicants.append(frozenset((i, value) for i, value in enumerate(pattern) if value is not None))
    primes = {term for term in implicants if not any(other < term for other in implicants)}
    names = {frozenset(("" if value else "not ") + truth.names[i] for i, value in term) for term in primes}
    assert result.prime_implicants is not None
    assert {frozenset(cut.events) for cut in result.prime_implicants.listed} == names


@settings(max_examples=100, deadline=None)
@given(random_models(), st.sampled_from([1, 2, 4, 8]))
def test_bracket_holds_the_probability(model: Model, nodes: int) -> None:
    result = quantify(model, Request(top=top_of(model)), budget=Budget(nodes=nodes, seconds=20))
    truth = Truth(model, tuple(name for name in model.basic_events))
    if result.method == "exact":
        assert result.probability == pytest.approx(float(truth.probability), **CLOSE)
    else:
        assert result.probability is None
        assert 0.0 <= result.lower <= float(truth.probability) * (1 + 1e-12)  # type: ignore[operator]
        assert float(truth.probability) * (1 - 1e-12) <= result.upper <= 1.0  # type: ignore[operator]
