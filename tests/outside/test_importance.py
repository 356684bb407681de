"""Importance measures of small trees.

Definitions: NUREG/CR-3385, NUREG-0492 and textbooks (from memory). With P1 = P(top | event), P0 =
P(top | no event), P = P(top): Birnbaum P1 - P0; criticality = Birnbaum q/P; achievement worth P1/P;
reduction worth P/P0; diagnostic q P1/P; Fussell-Vesely as union P(union of the cut sets with the
event)/P and as sum of cut-set products over sum of all. Values: enumeration of all states.
"""

from __future__ import annotations

from dataclasses import asdict

import pytest

from faulttree.engine.quantify import quantify
from faulttree.engine.results import Quantification
from tests.engine.models import both, combine, either, make_model
from tests.outside.test_small_trees import bridge, pressure_tank

MEASURES = (
    "birnbaum",
    "criticality",
    "fussell_vesely_union",
    "fussell_vesely_rare_event",
    "risk_achievement_worth",
    "risk_reduction_worth",
    "diagnostic",
)


def assert_row(result: Quantification, event: str, row: tuple[float | None, ...], rel: float = 2e-8) -> None:
    """Compare the measures of one event, in the order of MEASURES; None is not compared."""
    found = asdict(result.importance[event])
    for name, expected in zip(MEASURES, row, strict=True):
        if expected is not None:
            assert found[name] == pytest.approx(expected, rel=rel), f"{name} of {event}"


@pytest.mark.parametrize(
    ("event", "row"),
    [
        ("A", (0.19, 0.27536232, 0.28985507, 0.28571429, 3.47826087, 1.38, 0.34782609)),
        ("B", (0.095, 0.27536232, 0.28985507, 0.28571429, 2.10144928, 1.38, 0.42028986)),
        ("C", (0.98, 0.71014493, 0.72463768, 0.71428571, 14.4927536, 3.45, 0.72463768)),
    ],
)
def test_two_in_series_with_one_alone(event: str, row: tuple[float, ...]) -> None:
    """Source: definitions above, enumeration."""
    model = make_model({"TOP": either(both("A", "B"), "C")}, {"A": 0.1, "B": 0.2, "C": 0.05})
    assert_row(quantify(model), event, row)


@pytest.mark.parametrize(
    ("event", "row"),
    [
        ("A", (0.0488, 0.44852941, 0.45404412, 0.45454545, 45.4044118, 1.81333333, 0.45404412)),
        ("B", (0.0394, 0.72426471, 0.72977941, 0.72727273, 36.4889706, 3.62666667, 0.72977941)),
        ("C", (0.0296, 0.81617647, 0.82169118, 0.81818182, 27.3897059, 5.44, 0.82169118)),
    ],
)
def test_two_out_of_three_ranks_differ_by_measure(event: str, row: tuple[float, ...]) -> None:
    """Source: definitions above, enumeration."""
    model = make_model({"TOP": combine("atleast", "A", "B", "C", low=2)}, {"A": 0.01, "B": 0.02, "C": 0.03})
    assert_row(quantify(model), event, row)


def test_bridge_components() -> None:
    """Source: definitions above, enumeration; structural importance is Birnbaum at q = 0.5."""
    result = bridge({f"c{i}": 0.1 for i in range(1, 6)})
    for i in (1, 2, 4, 5):
        assert_row(result, f"c{i}", (0.1062, 0.4934944238, None, None, 5.4414498141, 1.9743119266, None))
    assert_row(result, "c3", (0.0162, 0.0752788104, None, None, 1.6775092937, 1.0814070352, None))
    structural = bridge({f"c{i}": 0.5 for i in range(1, 6)}).importance
    assert structural["c3"].birnbaum == pytest.approx(0.125)
    assert structural["c1"].birnbaum == pytest.approx(0.375)


@pytest.mark.parametrize(
    ("event", "row"),
    [
        ("T", (0.999969984, 0.142788197, None, None, 28558.497, 1.166572832, 0.142792483)),
        ("K2", (0.999994984, 0.856750603, None, None, 28558.497, 6.980832162, 0.856754900)),
        ("S", (1.599875e-4, 4.5690025e-4, None, None, 5.5685456, 1.000457109, 5.5685456e-4)),
        ("S1", (9.9983501e-5, 8.56613542e-5, None, None, 3.8552928, 1.000085669, 1.15658784e-4)),
        ("K1", (9.9983501e-5, 8.56613542e-5, None, None, 3.8552928, 1.000085669, 1.15658784e-4)),
        ("R", (9.9990500e-5, 2.85557837e-4, None, None, 3.8552928, 1.000285639, 3.85529281e-4)),
    ],
)
def test_pressure_tank_components(event: str, row: tuple[float | None, ...]) -> None:
    """Source: tree of NUREG-0492 (from memory), definitions above, enumeration."""
    assert_row(quantify(pressure_tank()), event, row, rel=1e-7)


def test_shares_of_the_pressure_tank_cut_sets() -> None:
    """Source: NUREG-0492 prints about 86 %, 14 % and less than 0.1 % (from memory)."""
    result = quantify(pressure_tank())
    assert result.cut_sets is not None
    assert result.rare_event is not None
    shares = [100.0 * cut.probability / result.rare_event for cut in result.cut_sets.listed]
    assert shares == pytest.approx([85.675, 14.279, 0.0286, 0.0086, 0.0086], abs=5e-4)
