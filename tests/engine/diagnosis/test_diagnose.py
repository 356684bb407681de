"""Posteriors, explanations, steps, conflicts and information of small random trees against enumeration."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from faulttree.engine.budget import Budget
from faulttree.engine.diagnosis.diagnose import Posterior, diagnose
from faulttree.engine.diagnosis.inspections import Inspection, weigh_inspections
from faulttree.engine.diagnosis.pieces import Piece
from faulttree.engine.errors import BadModel, Cancelled, LimitReached
from faulttree.engine.model import HouseEvent, Model
from tests.engine.diagnosis.joint import Joint
from tests.engine.models import both, either, make_model, random_models, top_of

CLOSE = {"rel": 1e-9, "abs": 1e-13}
SETTINGS = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
RATIOS = st.one_of(st.sampled_from([0.0, math.inf, 1.0]), st.floats(0.01, 100.0))
RATES = st.floats(0.0, 1.0)


@st.composite
def cases(draw: st.DrawFn, *, coherent: bool = False, most: int = 4) -> tuple[Model, str, list[Piece], Joint]:
    model = draw(random_models(coherent=coherent, most_events=10))
    top = top_of(model)
    try:
        plain = diagnose(model, top, [])
    except BadModel:
        assume(False)
        raise AssertionError from None
    targets = [*(each.name for each in (*plain.events, *plain.gates)), top]
    count = draw(st.integers(0, most))
    pieces = [Piece(f"p{i}", draw(st.sampled_from(targets)), draw(RATIOS)) for i in range(count)]
    return model, top, pieces, Joint(model, top, [each.name for each in plain.events])


@SETTINGS
@given(cases())
def test_posteriors_of_events_and_gates(case: tuple[Model, str, list[Piece], Joint]) -> None:
    model, top, pieces, joint = case
    answer = diagnose(model, top, pieces)
    assume(joint.weigh([]) > 0)
    assert answer.top_probability == pytest.approx(float(joint.weigh([])), **CLOSE)
    possible = joint.weigh(pieces) > 0
    assert (answer.conflict is None) == possible
    for each in (*answer.events, *answer.gates):
        assert each.prior == pytest.approx(joint.prior(each.name), **CLOSE)
        assert each.given_top == pytest.approx(joint.find_posterior([], each.name), **CLOSE)
        if possible:
            assert each.posterior == pytest.approx(joint.find_posterior(pieces, each.name), **CLOSE)
        else:
            assert each.posterior is None


@SETTINGS
@given(cases())
def test_every_step_is_the_posterior_of_the_evidence_so_far(case: tuple[Model, str, list[Piece], Joint]) -> None:
    model, top, pieces, joint = case
    assume(joint.weigh([]) > 0)
    steps = diagnose(model, top, pieces).steps
    so_far = [k for k in range(len(pieces) + 1) if joint.weigh(pieces[:k]) > 0]
    assert [step.key for step in steps] == [pieces[k - 1].key if k else "" for k in so_far]
    for k, step in zip(so_far, steps, strict=True):
        expected = {name: joint.find_posterior(pieces[:k], name) for name in joint.names}
        assert step.posterior == pytest.approx(expected, **CLOSE)


@SETTINGS
@given(cases(coherent=True), st.integers(1, 6))
def test_explanations_and_how_many_surely_lead(case: tuple[Model, str, list[Piece], Joint], wanted: int) -> None:
    model, top, pieces, joint = case
    assume(joint.weigh(pieces) > 0)
    few, every = diagnose(model, top, pieces, explanations=wanted), diagnose(model, top, pieces, explanations=10_000)
    assert every.cut_sets == len(every.explanations) == every.explanations_sure
    for each in every.explanations:
        share = joint.weigh(pieces, lambda state, events=each.events: all(state[name] for name in events))
        assert each.posterior == pytest.approx(float(share / joint.weigh(pieces)), **CLOSE)
        assert each.prior == pytest.approx(math.prod(float(joint.p[name]) for name in each.events), **CLOSE)
    assert len(few.explanations) == min(wanted, len(every.explanations))
    for mine, best in zip(few.explanations[: few.explanations_sure], every.explanations, strict=False):
        assert mine.posterior == pytest.approx(best.posterior, **CLOSE)


@SETTINGS
@given(cases(most=6))
def test_a_conflict_names_the_fewest_pieces(case: tuple[Model, str, list[Piece], Joint]) -> None:
    model, top, pieces, joint = case
    assume(joint.weigh([]) > 0)
    assume(joint.weigh(pieces) == 0)
    conflict = diagnose(model, top, pieces).conflict
    assert conflict is not None
    assert conflict.smallest
    by_key = {piece.key: piece for piece in pieces}
    assert joint.weigh([by_key[key] for key in conflict.keys]) == 0
    for size in range(len(conflict.keys)):
        for fewer in itertools.combinations(pieces, size):
            assert joint.weigh(fewer) > 0


@SETTINGS
@given(cases(most=3), st.data(), RATES, RATES)
def test_information_of_an_inspection(
    case: tuple[Model, str, list[Piece], Joint], data: st.DataObject, s: float, f: float
) -> None:
    """Against the mutual information of the result and the whole state, summed over all states."""
    model, top, pieces, joint = case
    assume(joint.weigh(pieces) > 0)
    target = data.draw(st.sampled_from([*joint.names, top]))
    [worth] = weigh_inspections(model, top, pieces, [Inspection("i", target, s, f)])
    whole = joint.weigh(pieces)
    occurred = float(joint.weigh(pieces, lambda state: joint.is_true(target, state)) / whole)
    assert worth.target_probability == pytest.approx(occurred, **CLOSE)
    assert worth.positive_probability == pytest.approx(occurred * s + (1 - occurred) * f, **CLOSE)
    assert worth.bits == pytest.approx(_information(joint, pieces, target, s, f), rel=1e-7, abs=1e-9)


def _information(joint: Joint, pieces: list[Piece], target: str, s: float, f: float) -> float:
    """Sum over states and results of P(state, result) log2 P(state, result) / (P(state) P(result))."""
    whole, table = joint.weigh(pieces), []
    for values in itertools.product((False, True), repeat=len(joint.names)):
        state = dict(zip(joint.names, values, strict=True))
        chance = float(joint.weigh(pieces, lambda other, state=state: other == state) / whole)
        if chance:
            table.append((chance, s if joint.is_true(target, state) else f))
    positive = sum(chance * rate for chance, rate in table)
    negative = sum(chance * (1 - rate) for chance, rate in table)
    total = 0.0
    for chance, rate in table:
        for given_state, marginal in ((rate, positive), (1 - rate, negative)):
            if given_state > 0.0:
                total += chance * given_state * math.log2(given_state / marginal)
    return total


def test_an_event_that_the_top_does_not_depend_on_keeps_its_probability() -> None:
    model = make_model({"TOP": either("A", both("A", "B"))}, {"A": 0.1, "B": 0.2})
    answer = diagnose(model, "TOP", [Piece("p", "B", 4.0)])
    moved = _by_name(answer)
    assert (moved["A"].posterior, moved["B"].posterior) == (pytest.approx(1.0), pytest.approx(0.8 / 1.6))


def test_an_event_outside_the_tree_can_be_evidence() -> None:
    model = make_model({"TOP": either("A", "B"), "OTHER": both("B", "C")}, {"A": 0.1, "B": 0.2, "C": 0.5})
    answer = diagnose(model, "TOP", [Piece("p", "OTHER", math.inf)])
    assert _by_name(answer)["B"].posterior == pytest.approx(1.0)


def test_a_tiny_top_event_is_no_conflict() -> None:
    events = {f"E{i}": 1e-90 for i in range(3)}
    answer = diagnose(make_model({"TOP": both(*events)}, events), "TOP", [Piece("p", "E0", math.inf)])
    assert answer.conflict is None
    assert _by_name(answer)["E1"].posterior == pytest.approx(1.0)


def test_what_is_too_small_for_a_number_is_said() -> None:
    events = {f"E{i}": 1e-90 for i in range(5)}
    with pytest.raises(BadModel, match="too improbable to be computed with"):
        diagnose(make_model({"TOP": both(*events)}, events), "TOP", [])


def test_a_top_event_that_can_not_occur_is_said() -> None:
    answer = diagnose(make_model({"TOP": both("A", "B")}, {"A": 0.0, "B": 0.5}), "TOP", [])
    assert answer.conflict is not None
    assert answer.conflict.top_alone
    assert answer.conflict.keys == ()


@pytest.mark.parametrize(
    ("target", "ratio", "words"),
    [("H", 2.0, "house event"), ("a", 2.0, "Did you mean"), ("A", -1.0, "0 or more"), ("A", math.nan, "0 or more")],
)
def test_what_can_not_be_evidence_is_refused(target: str, ratio: float, words: str) -> None:
    model = make_model({"TOP": either("AB", "H"), "AB": both("A", "B")}, {"A": 0.1, "B": 0.2}, {"H": False})
    assert isinstance(model.house_events["H"], HouseEvent)
    with pytest.raises(BadModel, match=words):
        diagnose(model, "TOP", [Piece("p", target if target != "a" else "ABB", ratio)])


def test_limits_and_cancelling_are_kept() -> None:
    model = make_model({"TOP": either("A", "B")}, {"A": 0.1, "B": 0.2})
    with pytest.raises(LimitReached):
        diagnose(model, "TOP", [], budget=Budget(seconds=-1.0))
    with pytest.raises(Cancelled):
        diagnose(model, "TOP", [], cancelled=lambda: True)


def _by_name(answer: Posterior):  # type: ignore[no-untyped-def]
    return {each.name: each for each in (*answer.events, *answer.gates)}
