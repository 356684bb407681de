"""Importance measures as ratios of variants of a tree.

Source: definitions of risk achievement worth (top-event probability with the event certain, over the base) and
risk reduction worth (base over the probability with the event ruled out), NUREG/CR-3385 (from memory); trees and
values as in test_importance.py: NUREG-0492's pressure tank (from memory), enumeration of all states.
"""

from __future__ import annotations

import pytest

from faulttree.engine.model import Model
from faulttree.engine.overrides import Overrides
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.engine.models import combine, make_model
from tests.outside.test_small_trees import pressure_tank


def ratios(model: Model, event: str) -> tuple[float, float]:
    """Achievement and reduction worth, from three computations of the top event."""
    base = quantify(model).probability
    certain = quantify(model, Request(overrides=Overrides(events={event: True}))).probability
    ruled_out = quantify(model, Request(overrides=Overrides(events={event: False}))).probability
    assert base
    assert certain
    assert ruled_out
    return certain / base, base / ruled_out


@pytest.mark.parametrize(
    ("event", "achievement", "reduction"),
    [("A", 45.4044118, 1.81333333), ("B", 36.4889706, 3.62666667), ("C", 27.3897059, 5.44)],
)
def test_two_out_of_three(event: str, achievement: float, reduction: float) -> None:
    model = make_model({"TOP": combine("atleast", "A", "B", "C", low=2)}, {"A": 0.01, "B": 0.02, "C": 0.03})
    assert ratios(model, event) == pytest.approx((achievement, reduction), rel=2e-8)


@pytest.mark.parametrize(
    ("event", "achievement", "reduction"),
    [
        ("T", 28558.497, 1.166572832),
        ("K2", 28558.497, 6.980832162),
        ("S", 5.5685456, 1.000457109),
        ("S1", 3.8552928, 1.000085669),
        ("R", 3.8552928, 1.000285639),
    ],
)
def test_pressure_tank(event: str, achievement: float, reduction: float) -> None:
    assert ratios(pressure_tank(), event) == pytest.approx((achievement, reduction), rel=1e-7)
