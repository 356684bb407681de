"""Bayesian updating against NASA/SP-2009-569, Bayesian Inference for NASA Probabilistic Risk and Reliability Analysis.

Printed figures have two digits and carry sampling noise where the book sampled; where a printed exponent is a slip, the
recomputed value is asserted and the slip is named.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from faulttree.engine.learning.priors import (
    beta_prior,
    constrained_prior,
    gamma_prior,
    jeffreys_prior,
    lognormal_prior,
)
from faulttree.engine.learning.update import Updated, binomial, lifetimes, poisson, update

Z = stats.norm.cdf(1.645)
"""The level of an error factor where the book rounds its quantile to 1.645."""
TIMES = (55707.0, 255092.0, 56776.0, 111646.0, 11358772.0, 875209.0, 68978.0)


def figures(updated: Updated) -> list[float]:
    return [updated.mean, updated.p05, updated.p95]


def test_beta_and_binomial() -> None:
    """Source: Example 1, p. 31: printed 1.7e-5, 5.0e-6, 3.5e-5. The printed second parameter 189,226 is a slip."""
    updated = update(beta_prior(1.24, 189_075), binomial(2, 285))
    assert (updated.a, updated.b) == (pytest.approx(3.24), 189_358)
    assert figures(updated) == pytest.approx([1.71102e-5, 4.98019e-6, 3.51305e-5], rel=1e-5)
    prior = updated.prior
    assert [prior.mean, prior.quantile(0.05), prior.quantile(0.95)] == pytest.approx(
        [6.5582e-6, 5.441e-7, 1.8225e-5], rel=1e-4
    )


def test_gamma_and_poisson() -> None:
    """Source: Example 3, p. 38: printed 4.3e-6, 5.6e-7, 1.1e-5."""
    updated = update(gamma_prior(1.6, 365_000), poisson(0, 4_800))
    assert figures(updated) == pytest.approx([4.326663e-6, 5.626933e-7, 1.103121e-5], rel=1e-6)


def test_gamma_and_times_to_failure() -> None:
    """Source: Example 5, p. 42: printed 6.5e-7, 3.4e-7, 1.1e-6."""
    updated = update(gamma_prior(1.6, 365_000), lifetimes(TIMES))
    assert figures(updated) == pytest.approx([6.541327e-7, 3.352368e-7, 1.058943e-6], rel=1e-6)


@pytest.mark.parametrize(
    ("prior", "data", "mean", "p05", "p95"),
    [
        pytest.param({"median": 5e-7, "error_factor": 14}, poisson(0, 4_800), 1.675e-6, 3.549e-8, 6.633e-6, id="ex. 4"),
        pytest.param({"median": 5e-7, "error_factor": 14}, lifetimes(TIMES), 5.470e-7, 2.642e-7, 9.154e-7, id="ex. 6"),
        pytest.param(
            {"mean": 1e-5, "error_factor": 7.6}, poisson(2, 11_000), 5.603e-5, 7.718e-6, 1.572e-4, id="ex. 29"
        ),
        pytest.param({"mean": 1e-6, "error_factor": 10}, binomial(2, 285), 4.689e-5, 1.873e-6, 1.775e-4, id="ex. 2"),
    ],
)
def test_lognormal_priors_by_integration(prior, data, mean, p05, p95) -> None:  # type: ignore[no-untyped-def]
    """Source: Examples 4, 6, 29a and 2, recomputed on a grid; Example 2 prints its mean with an exponent slip."""
    updated = update(lognormal_prior(level=Z, **prior), data)
    assert figures(updated) == pytest.approx([mean, p05, p95], rel=1e-3)


def test_survivors_count_as_exposure() -> None:
    """Source: section 4.8.3, p. 132: printed 2.1e-4, 3.8e-5, 5.1e-4; the improper prior 1/rate is gamma(0, 0)."""
    data = lifetimes([394.7, 982.0], [1000.0] * 8)
    assert (data.count, data.amount) == (2, pytest.approx(9376.7))
    law = stats.gamma(2, scale=1 / 9376.7)
    assert [law.mean(), law.ppf(0.05), law.ppf(0.95)] == pytest.approx([2.13295e-4, 3.78984e-5, 5.05920e-4], rel=1e-5)


@pytest.mark.parametrize(
    ("data", "mean", "p05", "p50", "p95"),
    [
        (binomial(0, 100), 0.00495050, 1.96114e-5, 2.26643e-3, 0.0189768877),
        (binomial(2, 285), 0.00874126, 2.01289e-3, 7.62510e-3, 0.0192849270),
        (binomial(1, 403), 0.00371287, 4.36710e-4, 2.93297e-3, 9.65481e-3),
        (binomial(3, 20), 0.16666667, 0.0562480543, 0.156004251, 0.313680357),
        (poisson(0, 1e4), 5e-5, 1.96607e-7, 2.27468e-5, 1.92072941e-4),
        (poisson(2, 1e4), 2.5e-4, 5.72738e-5, 2.17573e-4, 5.53524885e-4),
        (poisson(3, 1e4), 3.5e-4, 1.08367e-4, 3.17291e-4, 7.03357022e-4),
    ],
)
def test_jeffreys_posteriors(data, mean, p05, p50, p95) -> None:  # type: ignore[no-untyped-def]
    """Source: forms of the book; figures by the closed forms."""
    quantity = "rate" if data.kind == "poisson" else "probability"
    updated = update(jeffreys_prior(quantity), data)
    assert [*figures(updated), updated.p50] == pytest.approx([mean, p05, p95, p50], rel=2e-5)


@pytest.mark.parametrize(("count", "mean", "p95"), [(0, 7.142857e-5, 2.743899e-4), (2, 3.571429e-4, 7.907498e-4)])
def test_constrained_noninformative_prior_of_a_rate(count: int, mean: float, p95: float) -> None:
    """Source: NUREG/CR-6823 and Atwood 1996 (from memory): gamma(1/2, 1/(2 mean)); mean 1e-4, 2,000 h."""
    updated = update(constrained_prior("rate", 1e-4), poisson(count, 2_000))
    assert [updated.mean, updated.p95] == pytest.approx([mean, p95], rel=1e-6)


@pytest.mark.parametrize(
    ("mean", "alpha", "beta"),
    [
        (0.5, 0.5, 0.5),
        (0.4, 0.4168, 0.6252),
        (0.3, 0.3590, 0.8378),
        (0.2, 0.3243, 1.2970),
        (0.15, 0.3211, 1.8198),
        (0.1, 0.3424, 3.0814),
        (0.05, 0.4171, 7.9247),
        (0.02, 0.4693, 22.9936),
        (0.01, 0.4848, 47.9986),
        (0.005, 0.4925, 97.9997),
    ],
)
def test_constrained_noninformative_prior_of_a_probability(mean: float, alpha: float, beta: float) -> None:
    """Source: NUREG/CR-6823, appendix C (alphas of 0.1 to 0.4 from memory); the rest by integration."""
    prior = constrained_prior("probability", mean)
    assert prior.a == pytest.approx(alpha, abs=6e-5)
    assert prior.b == pytest.approx(beta, abs=6e-3 if mean < 0.03 else 6e-4)
    mirrored = constrained_prior("probability", 1 - mean)
    assert (mirrored.a, mirrored.b) == pytest.approx((prior.b, prior.a), rel=1e-6)


def test_the_series_for_small_means_goes_on_from_the_integral() -> None:
    """Source: the maximum-entropy density integrated numerically at a mean of 2e-4."""
    alpha = constrained_prior("probability", 2e-4).a
    assert alpha == pytest.approx(0.5 - 1.5 * 2e-4, abs=1e-6)
    assert constrained_prior("probability", 0.99e-4).a == pytest.approx(0.5 - 1.5 * 0.99e-4, abs=1e-9)


def test_the_tilted_arcsine_law_has_the_mean_asked_for() -> None:
    """Source: numerical integration of e^(bp) p^-1/2 (1-p)^-1/2 for b of the mean 0.1 (b = -5.7426)."""
    b = -5.7426

    def moment(k: int) -> float:
        def inner(u: float) -> float:
            p = np.sin(u) ** 2  # dp / sqrt(p (1 - p)) = 2 du
            return float(p**k * np.exp(b * p))

        return float(integrate.quad(inner, 0, np.pi / 2)[0])

    mean = moment(1) / moment(0)
    variance = moment(2) / moment(0) - mean**2
    assert mean == pytest.approx(0.1, abs=2e-6)
    prior = constrained_prior("probability", 0.1)
    assert stats.beta(prior.a, prior.b).var() == pytest.approx(variance, rel=1e-4)
