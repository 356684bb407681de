"""Probability of a cause given that the top event occurred. Source of all values: enumeration of the states."""

from __future__ import annotations

from dataclasses import replace

import pytest

from faulttree.engine.errors import BadModel
from faulttree.engine.model import Model
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.engine.events.builders import make_group
from tests.engine.models import both, either, make_model
from tests.outside.test_small_trees import pressure_tank


def diagnose(model: Model, **evidence: bool) -> tuple[dict[str, float], float]:
    """Posterior of every event, and the probability of the top event together with the evidence."""
    result = quantify(model, Request(evidence=evidence))
    assert result.diagnosis is not None
    return result.diagnosis.posterior, result.diagnosis.evidence_probability


def two_and_one() -> Model:
    """TOP = AB + C."""
    return make_model({"TOP": either(both("A", "B"), "C")}, {"A": 0.1, "B": 0.2, "C": 0.05})


def test_posteriors_given_the_top_event() -> None:
    """Source: enumeration; the top event given as its own evidence adds nothing."""
    posterior, probability = diagnose(two_and_one(), TOP=True)
    assert posterior == pytest.approx({"A": 0.3478260870, "B": 0.4202898551, "C": 0.7246376812}, rel=1e-9)
    assert probability == pytest.approx(0.069, rel=1e-9)


def test_ruling_out_one_cause_convicts_the_other() -> None:
    """Source: enumeration: given the top event and not B, C is certain; P(top and not B) = 0.04."""
    posterior, probability = diagnose(two_and_one(), B=False)
    assert posterior["C"] == pytest.approx(1.0, rel=1e-12)
    assert probability == pytest.approx(0.04, rel=1e-12)
    assert posterior["A"] == pytest.approx(0.1, rel=1e-12)


@pytest.mark.parametrize(
    ("occurred", "expected"),
    [("C", 0.5217391304), ("AB", 0.2753623188), ("BC", 0.1304347826), ("AC", 0.0579710145), ("ABC", 0.0144927536)],
)
def test_likeliest_states_given_the_top_event(occurred: str, expected: float) -> None:
    """Source: enumeration; evidence on all three events leaves one state."""
    _, probability = diagnose(two_and_one(), **{name: name in occurred for name in "ABC"})
    assert probability / 0.069 == pytest.approx(expected, abs=5e-11)


def test_pressure_tank_causes() -> None:
    """Source: tree of NUREG-0492 (from memory), enumeration."""
    posterior, _ = diagnose(pressure_tank(), TOP=True)
    expected = {
        "K2": 0.856754900,
        "T": 0.142792483,
        "S": 5.5685456e-4,
        "R": 3.85529281e-4,
        "S1": 1.15658784e-4,
        "K1": 1.15658784e-4,
    }
    assert posterior == pytest.approx(expected, rel=1e-7)


def test_an_event_can_become_less_likely_in_a_tree_that_is_not_coherent() -> None:
    """Source: enumeration of AB + A'C."""
    model = make_model({"TOP": either(both("A", "B"), both("-A", "C"))}, {"A": 0.1, "B": 0.2, "C": 0.3})
    posterior, _ = diagnose(model, TOP=True)
    assert posterior == pytest.approx({"A": 0.0689655172, "B": 0.2551724138, "C": 0.9517241379}, rel=1e-9)


def test_common_cause_as_the_diagnosis() -> None:
    """Source: enumeration of the three derived events, beta = 0.1 and a total of 1e-3."""
    model = make_model({"TOP": both("A", "B")}, {"A": 1e-3, "B": 1e-3})
    group = make_group("beta-factor", "AB", 1e-3, 0.1, name="pair")
    posterior, probability = diagnose(replace(model, common_cause_groups={"pair": group}), TOP=True)
    expected = {"pair-all": 0.9919658799, "pair-A-alone": 0.0089268894, "pair-B-alone": 0.0089268894}
    assert posterior == pytest.approx(expected, rel=1e-7)
    assert probability == pytest.approx(1.0080991900e-4, rel=1e-9)


def test_evidence_that_contradicts_the_top_event_is_refused() -> None:
    """Source: logic."""
    with pytest.raises(BadModel, match="can't be true together with the top event"):
        diagnose(two_and_one(), B=False, C=False)
