"""Probability of a cause given that the top event occurred. Source of all values: enumeration of the states."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.stats import entropy

from faulttree.engine.diagnosis.diagnose import diagnose as investigate
from faulttree.engine.diagnosis.inspections import Inspection, weigh_inspections
from faulttree.engine.diagnosis.pieces import Piece, find_test_ratio
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


def test_the_same_causes_by_pieces_of_evidence() -> None:
    """Source: enumeration of AB + C: given the top event, and given besides that B did not occur."""
    answer = investigate(two_and_one(), "TOP", [Piece("not B", "B", 0.0)])
    moved = {each.name: each for each in answer.events}
    assert moved["A"].given_top == pytest.approx(0.3478260870, rel=1e-9)
    assert moved["B"].given_top == pytest.approx(0.4202898551, rel=1e-9)
    assert moved["C"].given_top == pytest.approx(0.7246376812, rel=1e-9)
    assert moved["C"].posterior == pytest.approx(1.0, rel=1e-12)
    explained = {each.events: each for each in answer.explanations}
    assert explained["A", "B"].given_top == pytest.approx(0.2753623188 + 0.0144927536, rel=1e-9)
    assert explained["A", "B"].posterior == 0.0
    assert explained["C",].posterior == pytest.approx(1.0, rel=1e-12)


def test_common_cause_by_pieces_of_evidence() -> None:
    """Source: enumeration, beta = 0.1 and a total of 1e-3; a member is a gate once its group is written out."""
    model = make_model({"TOP": both("A", "B")}, {"A": 1e-3, "B": 1e-3})
    model = replace(model, common_cause_groups={"pair": make_group("beta-factor", "AB", 1e-3, 0.1, name="pair")})
    answer = investigate(model, "TOP", [])
    moved = {each.name: each for each in (*answer.events, *answer.gates)}
    assert moved["pair-all"].given_top == pytest.approx(0.9919658799, rel=1e-9)
    assert moved["pair-A-alone"].given_top == pytest.approx(0.0089268894, rel=1e-7)
    assert moved["A"].given_top == pytest.approx(1.0, rel=1e-12)


def test_a_test_of_known_rates_is_the_theorem_of_bayes() -> None:
    """Source: Bayes' theorem: prevalence 1 %, sensitivity 99 %, false alarms 5 % give 1/6 (99/594)."""
    model = make_model({"TOP": either("A", "B")}, {"A": 0.01, "B": 1.0})
    ratio = find_test_ratio(0.99, 0.05, found=True)
    assert ratio == pytest.approx(19.8)
    [event, _] = investigate(model, "TOP", [Piece("test", "A", ratio)]).events
    assert event.posterior == pytest.approx(0.0099 / 0.0594, rel=1e-12)
    ratio = find_test_ratio(0.99, 0.05, found=False)
    [event, _] = investigate(model, "TOP", [Piece("test", "A", ratio)]).events
    assert event.posterior == pytest.approx(0.0001 / (0.0001 + 0.99 * 0.95), rel=1e-12)


@pytest.mark.parametrize(("s", "f"), [(0.9, 0.1), (0.99, 0.05), (1.0, 0.0), (0.6, 0.5), (0.2, 0.7)])
def test_information_of_an_inspection_is_the_drop_of_entropy(s: float, f: float) -> None:
    """Source: I(X;Y) = H(X) - H(X|Y), entropies by scipy.stats.entropy; X is C of AB + C, given the top event."""
    [worth] = weigh_inspections(two_and_one(), "TOP", [], [Inspection("look", "C", s, f)])
    q = 0.05 / 0.069
    before = entropy([q, 1 - q], base=2)
    y = q * s + (1 - q) * f
    after = y * entropy([q * s / y, (1 - q) * f / y], base=2)
    if y < 1.0:
        after += (1 - y) * entropy([q * (1 - s) / (1 - y), (1 - q) * (1 - f) / (1 - y)], base=2)
    assert worth.bits == pytest.approx(before - after, abs=1e-12)


def test_a_certain_test_tells_the_whole_entropy() -> None:
    """Source: I(X;X) = H(X); for a probability of 1/2 that is one bit."""
    model = make_model({"TOP": either("A", "B")}, {"A": 0.5, "B": 1.0})
    [worth] = weigh_inspections(model, "TOP", [], [Inspection("look", "A", 1.0, 0.0)])
    assert worth.bits == pytest.approx(1.0, rel=1e-12)
    assert (worth.if_positive, worth.if_negative) == (1.0, 0.0)
    assert math.isinf(find_test_ratio(1.0, 0.0, found=True))
