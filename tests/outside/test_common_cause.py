"""Common-cause groups: levels and the exact probability that at least m of n members fail.

Levels: Open-PSA Model Exchange Format, meta-logical layer; staggered alpha factors as in
NUREG/CR-5485 (from memory). "At least m": convolution over all derived events, total 1e-3.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from faulttree.engine.events.common_cause import (
    alpha_levels,
    alpha_staggered_levels,
    alpha_to_mgl,
    beta_levels,
    mgl_levels,
    phi_levels,
)
from faulttree.engine.model import CommonCauseGroup
from faulttree.engine.quantify import quantify
from tests.engine.events.builders import make_group
from tests.engine.models import combine, make_model

TOTAL = 1e-3


def at_least(m: int, group: CommonCauseGroup) -> float:
    """Exact probability that m or more members of a group fail."""
    members = group.members
    model = make_model({"TOP": combine("atleast", *members, low=m)}, dict.fromkeys(members, TOTAL))
    probability = quantify(replace(model, common_cause_groups={group.name: group})).probability
    assert probability is not None
    return probability


def assert_system(group: CommonCauseGroup, expected: dict[int, float], rel: float = 5e-10) -> None:
    """Compare "at least m fail" for each m given."""
    for m, value in expected.items():
        assert at_least(m, group) == pytest.approx(value, rel=rel), f"at least {m}"


@pytest.mark.parametrize(
    ("n", "expected"),
    [
        (2, {1: 1.8990100810e-3, 2: 1.0080991900e-4}),
        (3, {1: 2.7973009719e-3, 2: 1.0242829915e-4, 3: 1.0000072893e-4}),
        (4, {1: 3.6947834011e-3, 2: 1.0485368455e-4, 3: 1.0000291374e-4, 4: 1.0000000066e-4}),
    ],
)
def test_beta_factor(n: int, expected: dict[int, float]) -> None:
    """Source: Q1 = (1 - beta) Q, Qn = beta Q with beta = 0.1; convolution."""
    assert beta_levels(0.1, n, TOTAL) == pytest.approx([9e-4, *[0.0] * (n - 2), 1e-4])
    assert_system(make_group("beta-factor", "abcd"[:n], TOTAL, 0.1), expected)


def test_multiple_greek_letters() -> None:
    """Source: Open-PSA Model Exchange Format, example group (factors and formula printed); convolution."""
    assert mgl_levels([0.1, 0.2, 0.3], TOTAL) == pytest.approx([9e-4, 2.6666667e-5, 4.6666667e-6, 6e-6], rel=1e-7)
    expected = {1: 3.7791308770e-3, 2: 1.8950508499e-4, 3: 2.4967828059e-5, 4: 6.0206935199e-6}
    assert_system(make_group("MGL", "abcd", TOTAL, 0.1, 0.2, 0.3), expected)


ALPHAS = {2: [0.95, 0.05], 3: [0.95, 0.03, 0.02], 4: [0.95, 0.03, 0.015, 0.005]}


@pytest.mark.parametrize(
    ("n", "non_staggered", "staggered"),
    [
        (2, [9.047619e-4, 9.523810e-5], [9.5e-4, 5e-5]),
        (3, [8.878504673e-4, 2.803738318e-5, 5.607476636e-5], [9.5e-4, 1.5e-5, 2e-5]),
        (4, [8.837209302e-4, 1.860465116e-5, 1.395348837e-5, 1.860465116e-5], [9.5e-4, 1e-5, 5e-6, 5e-6]),
    ],
)
def test_alpha_factor_levels(n: int, non_staggered: list[float], staggered: list[float]) -> None:
    """Source: Open-PSA Model Exchange Format (non-staggered); NUREG/CR-5485 (staggered, from memory)."""
    assert alpha_levels(ALPHAS[n], TOTAL) == pytest.approx(non_staggered, rel=1e-7)
    assert alpha_staggered_levels(ALPHAS[n], TOTAL) == pytest.approx(staggered, rel=1e-9)


@pytest.mark.parametrize(
    ("n", "expected"),
    [
        (2, {2: 9.6056611e-5}),
        (3, {2: 1.4254294549e-4, 3: 5.6152494875e-5}),
        (4, {2: 1.9071019266e-4, 3: 7.4621523347e-5, 4: 1.8659382283e-5}),
    ],
)
def test_alpha_factor_systems(n: int, expected: dict[int, float]) -> None:
    """Source: non-staggered levels, convolution."""
    assert_system(make_group("alpha-factor", "abcd"[:n], TOTAL, *ALPHAS[n]), expected, rel=1e-8)


@pytest.mark.parametrize(
    ("n", "expected"),
    [
        (2, {2: 5.0902455e-5}),
        (3, {2: 6.7704034395e-5, 3: 2.0044280162e-5}),
        (4, {2: 9.0404433843e-5, 3: 2.5118613993e-5, 4: 5.0201051271e-6}),
    ],
)
def test_staggered_alpha_factors_as_greek_letters(n: int, expected: dict[int, float]) -> None:
    """Source: staggered levels (NUREG/CR-5485, from memory), convolution; given to the tree as an equal MGL group."""
    rho = alpha_to_mgl(ALPHAS[n], staggered=True)
    assert_system(make_group("MGL", "abcd"[:n], TOTAL, *rho), expected, rel=1e-8)


@pytest.mark.parametrize(
    ("n", "staggered", "expected"),
    [
        (4, False, [0.1162790698, 0.52, 0.3076923077]),
        (4, True, [0.05, 0.4, 0.25]),
        (3, False, [0.1121495327, 0.5]),
        (3, True, [0.05, 0.4]),
    ],
)
def test_alpha_factors_turned_into_greek_letters(n: int, staggered: bool, expected: list[float]) -> None:
    """Source: NASA/SP-2009-569 p. 46 for n = 3, citing NUREG/CR-5485 table A-2; levels must come out the same."""
    rho = alpha_to_mgl(ALPHAS[n], staggered=staggered)
    assert rho == pytest.approx(expected, rel=1e-9)
    levels = alpha_staggered_levels if staggered else alpha_levels
    assert mgl_levels(rho, TOTAL) == pytest.approx(levels(ALPHAS[n], TOTAL), rel=1e-12)


def test_phi_factor() -> None:
    """Source: Open-PSA Model Exchange Format; phi_k read as the share of a member's total at level k (sum rule)."""
    levels = phi_levels([0.90, 0.07, 0.03], TOTAL)
    assert levels == pytest.approx([9e-4, 3.5e-5, 3e-5])
    assert levels[0] + 2.0 * levels[1] + levels[2] == pytest.approx(TOTAL)
    group = make_group("phi-factor", "abc", TOTAL, 0.90, 0.07, 0.03)
    assert at_least(3, group) == pytest.approx(at_least(3, make_group("MGL", "abc", TOTAL, 0.1, 0.3)), rel=1e-12)
