"""Rates before and after, their limits, and exposure still needed, against published examples and exact tails."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from faulttree.engine.learning.rates import (
    compare_rates,
    exposure_for_improvement,
    exposure_for_rate,
    lower_rate,
    trials_for_success,
    upper_probability,
    upper_rate,
)


def test_a_published_comparison_of_two_rates() -> None:
    """Source: example of the rate-comparison help page of the R base distribution (from memory): 11 in 800, 21 in 3011.

    Its p-value 0.07967 takes outcomes no likelier than the one seen; ours is twice the smaller tail, which agrees with
    the interval 0.8584264 to 4.2772659 that the page prints too.
    """
    found = compare_rates(21, 3011, 11, 800)
    assert found is not None
    assert found.ratio == pytest.approx(1.971488, rel=1e-6)
    assert (found.low, found.high) == pytest.approx((0.8584264, 4.2772659), rel=1e-6)
    assert found.p_changed == pytest.approx(0.1120173, rel=1e-5)


def test_the_convention_agrees_with_its_interval() -> None:
    """Source: inputs of the help page of an exact rate-ratio test (Fay): the other convention gives 0.0331 here."""
    found = compare_rates(9, 16_660, 2, 17_877)
    assert found is not None
    assert found.ratio == pytest.approx(0.207094, rel=1e-5)
    assert (found.low, found.high) == pytest.approx((0.0217741, 1.0005491), rel=1e-5)
    assert found.p_changed == pytest.approx(0.0501065, rel=1e-5)
    assert (found.p_changed > 0.05) == (found.low < 1.0 < found.high)


def test_nothing_seen_in_one_of_two() -> None:
    """Source: Przyborowski and Wilenski 1940, seed example: 0 in 100 against 3 in 100."""
    found = compare_rates(3, 100, 0, 100)
    assert found is not None
    assert (found.p_improved, found.p_changed) == (pytest.approx(0.125), pytest.approx(0.25))
    assert compare_rates(0, 100, 0, 100) is None


def test_a_corrective_action_that_worked() -> None:
    """Source: binomial tail; 12 in 1,000 h before, 3 in 1,500 h after."""
    found = compare_rates(12, 1000, 3, 1500)
    assert found is not None
    assert found.p_improved == pytest.approx(0.0019277692, rel=1e-7)
    assert found.p_changed == pytest.approx(0.0038555385, rel=1e-7)
    assert (found.low, found.high) == pytest.approx((0.0301819, 0.6175855), rel=1e-5)


def test_a_corrective_action_without_recurrence() -> None:
    """Source: closed form: 8 before and 0 after in equal exposure give 2^-8; upper limit of the ratio 0.4542154."""
    found = compare_rates(8, 1000, 0, 1000)
    assert found is not None
    assert found.p_improved == pytest.approx(2**-8, rel=1e-12)
    assert found.upper == pytest.approx(0.4542154, rel=1e-6)


def test_nothing_before_leaves_no_ratio_and_no_upper_limit() -> None:
    """Source: logic."""
    found = compare_rates(0, 1000, 2, 1000)
    assert found is not None
    assert found.ratio is None
    assert math.isinf(found.high)
    assert found.p_improved == 1.0


@pytest.mark.parametrize(
    ("count", "confidence", "expected"),
    [
        (0, 0.5, 0.693147181),
        (0, 0.6, 0.916290732),
        (0, 0.9, 2.302585093),
        (0, 0.95, 2.995732274),
        (1, 0.95, 4.74386452),
        (2, 0.95, 6.29579362),
        (5, 0.95, 10.51303491),
    ],
)
def test_upper_limits_of_a_rate(count: int, confidence: float, expected: float) -> None:
    """Source: chi-square and Poisson tail."""
    limit = upper_rate(count, 1.0, confidence)
    assert limit == pytest.approx(expected, rel=1e-8)
    assert stats.poisson.cdf(count, limit) == pytest.approx(1 - confidence, rel=1e-9)
    assert exposure_for_rate(limit, confidence, count=count) == pytest.approx(1.0, rel=1e-9)


def test_lower_limits_of_a_rate() -> None:
    """Source: chi-square: 5 % limits for 1, 2, 5 failures."""
    found = [lower_rate(count, 1.0, 0.95) for count in (0, 1, 2, 5)]
    assert found == pytest.approx([0.0, 0.05129329, 0.35536151, 1.97014957], rel=1e-6)


@pytest.mark.parametrize(
    ("confidence", "reliability", "trials"),
    [
        (0.6, 0.9, 9),
        (0.9, 0.9, 22),
        (0.95, 0.9, 29),
        (0.9, 0.95, 45),
        (0.95, 0.95, 59),
        (0.9, 0.99, 230),
        (0.95, 0.99, 299),
    ],
)
def test_the_success_run_theorem(confidence: float, reliability: float, trials: int) -> None:
    """Source: success-run theorem; 22 for 90/90 as printed in quality handbooks."""
    assert trials_for_success(reliability, confidence) == trials
    assert upper_probability(0, trials, confidence) <= 1 - reliability + 1e-12
    assert upper_probability(0, trials - 1, confidence) > 1 - reliability


@pytest.mark.parametrize(
    ("count", "demands", "limit"), [(0, 59, 0.04950761), (1, 100, 0.04655981), (2, 285, 0.0219246073)]
)
def test_upper_limits_of_a_probability(count: int, demands: int, limit: float) -> None:
    """Source: exact binomial (Clopper and Pearson 1934)."""
    assert upper_probability(count, demands, 0.95) == pytest.approx(limit, rel=1e-6)


@pytest.mark.parametrize(("before", "after"), [(8, 0), (3, 0), (12, 1), (12, 3)])
def test_exposure_that_shows_an_improvement(before: int, after: int) -> None:
    """Source: the comparison itself: at that exposure its one-sided p-value is 1 - confidence."""
    needed = exposure_for_improvement(before, 1000, 0.9, after=after)
    assert needed is not None
    found = compare_rates(before, 1000, after, needed)
    assert found is not None
    assert found.p_improved == pytest.approx(0.1, rel=1e-6)
    assert exposure_for_improvement(0, 1000, 0.9) is None
