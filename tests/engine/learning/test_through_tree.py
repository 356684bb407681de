"""What a gate teaches of its parameters, where the answer is known in closed form or by integration."""

from __future__ import annotations

import pytest
from scipy import integrate, stats

from faulttree.engine.errors import BadModel
from faulttree.engine.learning.through_tree import infer_through_tree
from faulttree.engine.model import BasicEvent, Call, Model, Number, Parameter, ParameterReference
from tests.engine.models import both, either, make_model


def test_a_gate_over_one_event_is_beta_and_binomial() -> None:
    """Closed form: beta(2, 38) and 3 in 40 give beta(5, 75)."""
    model = make_model({"TOP": either("A")}, {"A": Call("beta-deviate", (Number(2.0), Number(38.0)))})
    found = infer_through_tree(model, "TOP", 3, 40)
    assert found.usable
    law = stats.beta(5, 75)
    for row in found.learnt:
        assert row.mean == pytest.approx(law.mean(), abs=5 * row.error)
        assert row.p05 == pytest.approx(law.ppf(0.05), rel=0.02)
        assert row.p95_range[0] <= law.ppf(0.95) <= row.p95_range[1]
        assert row.prior_mean == pytest.approx(0.05, rel=1e-3)


def test_a_shared_parameter_is_learnt_once_for_both_events() -> None:
    """Integration: both events of an AND draw on one parameter p, so the gate has p squared."""
    shared = Parameter("p", Call("beta-deviate", (Number(4.0), Number(16.0))))
    plain = make_model({"TOP": both("A", "B")}, {"A": 0.1, "B": 0.1})
    events = {name: BasicEvent(name, ParameterReference("p")) for name in "AB"}
    model = Model(gates=plain.gates, basic_events=events, parameters={"p": shared})
    found = infer_through_tree(model, "TOP", 6, 50)
    [row] = [each for each in found.learnt if each.owner == "parameter p"]

    def weight(p: float, k: int) -> float:
        return float(p**k * stats.beta(4, 16).pdf(p) * stats.binom.pmf(6, 50, p * p))

    expected = integrate.quad(weight, 0, 1, args=(1,))[0] / integrate.quad(weight, 0, 1, args=(0,))[0]
    assert row.mean == pytest.approx(expected, abs=5 * row.error)


def test_too_few_fitting_samples_give_no_figures() -> None:
    model = make_model({"TOP": either("A")}, {"A": Call("beta-deviate", (Number(2.0), Number(3800.0)))})
    found = infer_through_tree(model, "TOP", 900, 1000, samples=2_000)
    assert not found.usable
    assert found.learnt == ()
    assert any("Too few samples" in note for note in found.notes)


@pytest.mark.parametrize(("count", "demands"), [(2, 1), (-1, 5), (0, 0)])
def test_counts_that_can_not_be(count: int, demands: int) -> None:
    model = make_model({"TOP": either("A")}, {"A": Call("beta-deviate", (Number(2.0), Number(38.0)))})
    with pytest.raises(BadModel, match="occurrences"):
        infer_through_tree(model, "TOP", count, demands)


def test_nothing_can_be_learnt_of_plain_numbers() -> None:
    with pytest.raises(BadModel, match="nothing can be learnt"):
        infer_through_tree(make_model({"TOP": either("A")}, {"A": 0.1}), "TOP", 1, 10)
