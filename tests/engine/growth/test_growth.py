"""The power-law process, its trend tests and its fit, against simulation and direct integration."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, stats

from faulttree.engine.errors import BadModel
from faulttree.engine.growth.fit import check_fit
from faulttree.engine.growth.laplace import find_trend
from faulttree.engine.growth.power_law import bessel_cdf, fit_power_law, product_cdf
from faulttree.engine.growth.record import Record, make_record


def draw_record(random: np.random.Generator, beta: float, *, count: int | None = None, mean: float = 8.0) -> Record:
    """A record of a true process: to its `count`th event, or to exposure 100 with `mean` events expected by then."""
    if count is not None:
        arrivals: NDArray[np.float64] = np.cumsum(random.exponential(size=count)) ** (1.0 / beta)
        return make_record([float(each) for each in arrivals])
    found = random.poisson(mean)
    return make_record([float(each) for each in 100.0 * random.random(found) ** (1.0 / beta)], 100.0)


def test_limits_at_a_fixed_end_hold_the_truth_as_often_as_they_say() -> None:
    """The conditional limits are conservative in the count, so they hold it at least that often."""
    random = np.random.default_rng(5)
    beta, mean = 0.6, 8.0
    truth = mean * beta / 100.0
    records = [record for record in (draw_record(random, beta, mean=mean) for _ in range(800)) if record.count >= 3]
    fits = [fit_power_law(record, confidence=0.8) for record in records]
    held = sum(fit.intensity_limits.low <= truth <= fit.intensity_limits.high for fit in fits) / len(fits)
    assert 0.77 < held < 0.93
    assert sum(f.beta_limits.low <= beta <= f.beta_limits.high for f in fits) / len(fits) == pytest.approx(
        0.8, abs=0.05
    )


def test_limits_at_the_last_event_hold_the_truth_as_often_as_they_say() -> None:
    """These are exact: the share is that of the confidence, within the error of 800 draws."""
    random = np.random.default_rng(6)
    beta, count = 1.4, 7
    held_rate = held_beta = 0
    for _ in range(800):
        record = draw_record(random, beta, count=count)
        fit = fit_power_law(record, confidence=0.8)
        truth = beta * record.end ** (beta - 1.0)
        held_rate += fit.intensity_limits.low <= truth <= fit.intensity_limits.high
        held_beta += fit.beta_limits.low <= beta <= fit.beta_limits.high
    assert held_rate / 800 == pytest.approx(0.8, abs=0.045)
    assert held_beta / 800 == pytest.approx(0.8, abs=0.045)


@pytest.mark.parametrize("count", [3, 8, 40])
def test_the_product_of_gammas_against_adaptive_integration(count: int) -> None:
    for x in (0.3 * count**2, 1.0 * count**2, 2.5 * count**2):
        direct, _ = integrate.quad(
            lambda h, x=x: stats.gamma.pdf(h, count - 1) * stats.gamma.cdf(x / h, count), 0, np.inf, epsabs=1e-11
        )
        assert product_cdf(x, count) == pytest.approx(direct, abs=1e-8)


def test_the_law_of_the_count_sums_to_one_and_has_the_ratios_of_its_weights() -> None:
    x = 37.0
    steps = np.diff([bessel_cdf(count, x) for count in range(60)])
    assert bessel_cdf(60, x) == pytest.approx(1.0)
    for n, (first, second) in enumerate(pairwise(steps[:20]), start=1):
        assert second / first == pytest.approx(x / ((n + 1) * n))


def test_the_fit_maximises_the_likelihood() -> None:
    times, end = [3.0, 8.0, 21.0, 22.0, 60.0], 90.0
    fit = fit_power_law(make_record(times, end))

    def likelihood(beta: float, scale: float) -> float:
        return sum(math.log(scale * beta * t ** (beta - 1)) for t in times) - scale * end**beta

    best = likelihood(fit.beta, fit.scale)
    for factor in (0.99, 1.01):
        assert likelihood(fit.beta * factor, fit.scale) < best
        assert likelihood(fit.beta, fit.scale * factor) < best
    assert fit.expected(end) == pytest.approx(len(times))


def test_the_unit_of_exposure_does_not_matter() -> None:
    times = [3.0, 8.0, 21.0, 22.0, 60.0]
    hours, minutes = make_record(times, 90.0), make_record([60.0 * t for t in times], 5400.0)
    first, second = fit_power_law(hours), fit_power_law(minutes)
    assert first.beta == pytest.approx(second.beta)
    assert first.mtbf * 60.0 == pytest.approx(second.mtbf)
    assert find_trend(hours).p_improved == pytest.approx(find_trend(minutes).p_improved)
    assert check_fit(first).statistic == pytest.approx(check_fit(second).statistic)


def test_the_trend_test_is_exact_for_few_events() -> None:
    """Under a constant rate its p-value is uniform, which the normal approximation isn't for three events."""
    random = np.random.default_rng(7)
    p = [find_trend(make_record([float(t) for t in row], 1.0)).p_improved for row in random.random((1500, 3))]
    assert stats.kstest(p, "uniform").pvalue > 0.01
    assert find_trend(make_record([0.1, 0.2, 0.3], 1.0)).is_exact
    assert not find_trend(make_record(list(np.linspace(0.1, 0.9, 25)), 1.0)).is_exact


def test_a_poor_fit_is_found_and_a_good_one_is_not() -> None:
    clumped = [10.0 + n / 100 for n in range(10)] + [90.0 + n / 100 for n in range(10)]
    assert check_fit(fit_power_law(make_record(clumped, 100.0))).is_poor
    even = [float(n) for n in range(5, 100, 5)]
    assert not check_fit(fit_power_law(make_record(even, 100.0))).is_poor


def test_the_level_of_the_fit_is_what_it_says() -> None:
    random = np.random.default_rng(8)
    poor = [check_fit(fit_power_law(draw_record(random, 0.7, mean=12.0))).is_poor for _ in range(400)]
    assert sum(poor) / 400 == pytest.approx(0.1, abs=0.045)


@pytest.mark.parametrize(
    ("times", "end", "words"),
    [
        ([1.0, 2.0], 5.0, "takes at least 3"),
        ([1.0, 2.0, 3.0], None, "takes at least 4"),
        ([0.0, 2.0, 3.0], 5.0, "above 0"),
        ([1.0, math.nan, 3.0], 5.0, "no number"),
        ([1.0, 2.0, 7.0], 5.0, "past the end"),
        ([1.0, 2.0, 3.0], 0.0, "The end is 0"),
        ([5.0, 5.0, 5.0], 5.0, "very end"),
        ([], None, "neither an event nor an end"),
    ],
)
def test_what_cannot_be_fitted_is_refused_with_the_reason(times: list[float], end: float | None, words: str) -> None:
    with pytest.raises(BadModel, match=words):
        fit_power_law(make_record(times, end))


def test_a_confidence_that_is_none_is_refused() -> None:
    with pytest.raises(BadModel, match="confidence"):
        fit_power_law(make_record([1.0, 2.0, 3.0], 5.0), confidence=1.0)
