"""Minimal cut sets and top-event probability of small trees with published or textbook answers."""

from __future__ import annotations

import pytest

from faulttree.engine.model import Formula, Model
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.results import Quantification
from tests.engine.models import both, combine, either, make_model

CLOSE = 1e-9  # relative; all expected values have nine digits or more, or are exact


def solve(
    top: Formula, events: dict[str, float], gates: dict[str, Formula] | None = None, **request: int
) -> Quantification:
    """Quantify one formula, with inner gates where there are any."""
    return quantify(make_model({**(gates or {}), "TOP": top}, events), Request(top="TOP", **request))


def cut_sets(result: Quantification) -> dict[str, float]:
    """Listed cut sets, events joined by blanks."""
    assert result.cut_sets is not None
    assert result.cut_sets.exact
    assert len(result.cut_sets.listed) == result.cut_sets.count
    return {" ".join(cut.events): cut.probability for cut in result.cut_sets.listed}


def assert_figures(result: Quantification, exact: float, rare_event: float, upper: float) -> None:
    """Exact probability, rare-event figure and min-cut upper bound."""
    assert result.method == "exact"
    assert result.probability == pytest.approx(exact, rel=CLOSE)
    assert result.rare_event == pytest.approx(rare_event, rel=CLOSE)
    assert result.min_cut_upper_bound == pytest.approx(upper, rel=CLOSE)


def pressure_tank() -> Model:
    """The handbook's tree, gate by gate."""
    gates = {
        "TOP": either("T", "E2"),
        "E2": either("K2", "E3"),
        "E3": both("S", "E4"),
        "E4": either("S1", "E5"),
        "E5": either("K1", "R"),
    }
    return make_model(gates, {"T": 5e-6, "K2": 3e-5, "S": 1e-4, "S1": 3e-5, "K1": 3e-5, "R": 1e-4})


def test_pressure_tank() -> None:
    """Source: NUREG-0492 (1981), chapters VIII and XI, tree and event probabilities from memory; its printed total
    of about 3.4e-5 is below the sum of its own five products, so the recomputed value stands here.
    """
    result = quantify(pressure_tank())
    assert cut_sets(result) == pytest.approx({"T": 5e-6, "K2": 3e-5, "S S1": 3e-9, "K1 S": 3e-9, "R S": 1e-8})
    assert_figures(result, 3.501584875e-5, 3.5016e-5, 3.501584944e-5)


@pytest.mark.parametrize(
    ("a", "b", "c", "exact", "rare_event", "upper"),
    [
        (0.01, 0.01, 0.01, 0.000298, 0.0003, 0.0002999700009999),
        (0.1, 0.1, 0.1, 0.028, 0.03, 0.029701),
        (0.1, 0.2, 0.3, 0.098, 0.11, 0.106436),
    ],
)
def test_two_out_of_three(a: float, b: float, c: float, exact: float, rare_event: float, upper: float) -> None:
    """Source: 3 q^2 - 2 q^3, textbook identity (IEC 61025, from memory); enumeration for unequal events."""
    result = solve(combine("atleast", "A", "B", "C", low=2), {"A": a, "B": b, "C": c})
    assert set(cut_sets(result)) == {"A B", "A C", "B C"}
    assert_figures(result, exact, rare_event, upper)


def bridge(q: dict[str, float]) -> Quantification:
    """Five components, number 3 is the bridge; the top event is that no path is left."""
    paths = ("14", "25", "135", "234")
    return solve(both(*(either(*(f"c{i}" for i in path)) for path in paths)), q)


@pytest.mark.parametrize(
    ("q", "exact", "rare_event", "upper"),
    [
        (0.1, 0.02152, 0.022, 0.0218592199),
        (0.05, 0.005219375, 0.00525, 0.005242486016),
        (0.01, 0.0002019502, 0.000202, 0.000201989599),
    ],
)
def test_bridge_of_equal_components(q: float, exact: float, rare_event: float, upper: float) -> None:
    """Source: reliability polynomial 2p^2 + 2p^3 - 5p^4 + 2p^5 (Barlow and Proschan, from memory)."""
    result = bridge({f"c{i}": q for i in range(1, 6)})
    assert set(cut_sets(result)) == {"c1 c2", "c4 c5", "c1 c3 c5", "c2 c3 c4"}
    assert_figures(result, exact, rare_event, upper)
    p = 1.0 - q
    assert result.probability == pytest.approx(1.0 - (2 * p**2 + 2 * p**3 - 5 * p**4 + 2 * p**5), rel=1e-9)


def test_bridge_of_unequal_components() -> None:
    """Source: enumeration of all 32 states."""
    result = bridge({"c1": 0.1, "c2": 0.2, "c3": 0.3, "c4": 0.15, "c5": 0.25})
    assert_figures(result, 0.067925, 0.074, 0.07224995562)


def test_a_repeated_event_is_not_multiplied_gate_by_gate() -> None:
    """Source: enumeration of all 8 states; multiplying gate by gate would give 0.1036."""
    result = solve(both(either("A", "B"), either("A", "C")), {"A": 0.1, "B": 0.2, "C": 0.3})
    assert set(cut_sets(result)) == {"A", "B C"}
    assert_figures(result, 0.154, 0.16, 0.154)


def test_overlapping_cut_sets_set_the_three_figures_apart() -> None:
    """Source: enumeration of all 16 states."""
    top = either(both("A", "B"), both("B", "C"), both("C", "D"))
    result = solve(top, {"A": 0.1, "B": 0.2, "C": 0.3, "D": 0.4})
    assert_figures(result, 0.17, 0.2, 0.189344)


def test_a_rare_event_figure_above_one_is_flagged() -> None:
    """Source: 1 - 0.8^10, textbook identity."""
    events = {f"e{i}": 0.2 for i in range(10)}
    result = solve(either(*events), events)
    assert_figures(result, 0.8926258176, 2.0, 0.8926258176)
    assert any("exceeds 1 and is not a probability" in note for note in result.notes)


def house_tree(houses: dict[str, bool]) -> Quantification:
    """The example tree with a house event."""
    gates = {
        "TOP": either("G1", "G2"),
        "G1": both("H1", "G3", "G4"),
        "G2": both("-H1", "E2", "G4"),
        "G3": either("E1", "E3"),
        "G4": either("E3", "E4"),
    }
    return quantify(make_model(gates, {"E1": 0.1, "E2": 0.2, "E3": 0.05, "E4": 0.3}, houses))


def test_house_event_of_the_exchange_format() -> None:
    """Source: Open-PSA Model Exchange Format, fault-tree layer, first figure (tree); enumeration (numbers)."""
    on = house_tree({"H1": True})
    assert set(cut_sets(on)) == {"E3", "E1 E4"}
    assert on.probability == pytest.approx(0.0785, rel=CLOSE)
    assert on.rare_event == pytest.approx(0.08, rel=CLOSE)
    off = house_tree({"H1": False})
    assert set(cut_sets(off)) == {"E2 E3", "E2 E4"}
    assert_figures(off, 0.067, 0.07, 0.0694)


def test_component_structured_tree_of_the_exchange_format() -> None:
    """Source: Open-PSA Model Exchange Format, fault-tree layer (tree and probabilities printed there); enumeration."""
    gates = {f"G{i}": both("BE1", f"BE{i + 1}") for i in (1, 2, 3)}
    events = {"BE1": 1.2e-3, "BE2": 2.4e-3, "BE3": 5.2e-3, "BE4": 1.6e-3}
    result = solve(either("G1", "G2", "G3"), events, gates)
    assert set(cut_sets(result)) == {"BE1 BE2", "BE1 BE3", "BE1 BE4"}
    assert_figures(result, 1.1010455962e-5, 1.104e-5, 1.1039964519e-5)


def test_a_tree_that_is_not_coherent_has_its_consensus_term() -> None:
    """Source: consensus theorem (Quine); enumeration. The hull without the negation has 0.314 exactly."""
    events = {"A": 0.1, "B": 0.2, "C": 0.3}
    result = solve(either(both("A", "B"), both("-A", "C")), events, prime_implicants=10)
    assert not result.coherent
    assert result.probability == pytest.approx(0.29, rel=CLOSE)
    assert result.prime_implicants is not None
    assert {cut.events for cut in result.prime_implicants.listed} == {("A", "B"), ("C", "not A"), ("B", "C")}
    birnbaum = {name: measures.birnbaum for name, measures in result.importance.items()}
    assert birnbaum == pytest.approx({"A": -0.1, "B": 0.1, "C": 0.9})
    assert set(cut_sets(result)) == {"A B", "C"}
    assert result.rare_event == pytest.approx(0.32, rel=CLOSE)
    assert any("not coherent" in note for note in result.notes)


@pytest.mark.parametrize(
    ("top", "exact", "implicants"),
    [
        (combine("xor", "A", "B"), 0.26, {"A not B", "B not A"}),
        (
            combine("xor", "A", "B", "C"),
            0.404,
            {"A not B not C", "B not A not C", "C not A not B", "A B C"},
        ),
        (
            combine("cardinality", "A", "B", "C", low=1, high=1),
            0.398,
            {"A not B not C", "B not A not C", "C not A not B"},
        ),
    ],
)
def test_parity_and_exactly_one_differ(top: Formula, exact: float, implicants: set[str]) -> None:
    """Source: Open-PSA Model Exchange Format (n-ary xor is parity); (1 - 0.8 0.6 0.4)/2 and enumeration."""
    result = solve(top, {"A": 0.1, "B": 0.2, "C": 0.3}, prime_implicants=10)
    assert result.probability == pytest.approx(exact, rel=CLOSE)
    assert result.prime_implicants is not None
    assert {" ".join(cut.events) for cut in result.prime_implicants.listed} == implicants


def test_lecture_notes_tree() -> None:
    """Source: public civil-engineering lecture notes "Fault Trees: probability of a particular failure condition"."""
    result = solve(either("G", "E3"), {"E1": 0.067, "E2": 0.075, "E3": 0.005}, {"G": both("E1", "E2")})
    assert result.probability == pytest.approx(0.009999875, rel=CLOSE)
    inner = quantify(make_model({"G": both("E1", "E2")}, {"E1": 0.067, "E2": 0.075}))
    assert inner.probability == pytest.approx(0.005025, rel=CLOSE)
