"""Uncertain parameters: distributions with known means and percentiles, alone and through whole trees."""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from scipy.stats import norm

from faulttree.engine.events.deviates import lognormal_parameters, mean_of, quantile_of
from faulttree.engine.model import Call, Expression, Number, Reference
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.results import Uncertainty
from tests.engine.events.builders import call, make_events
from tests.engine.models import both, make_model

Z95 = 1.6448536269514722
SAMPLES = 40_000


def arguments_of(deviate: Call) -> list[np.ndarray]:
    """Constant arguments as arrays."""
    return [np.asarray(argument.value) for argument in deviate.arguments if isinstance(argument, Number)]


def quantiles(deviate: Call) -> list[float]:
    """5th, 50th and 95th percentile."""
    return [float(quantile_of(deviate.function, arguments_of(deviate), np.asarray(u))) for u in (0.05, 0.5, 0.95)]


def mean(deviate: Call) -> float:
    """Mean, the value outside sampling."""
    return float(mean_of(deviate.function, arguments_of(deviate)))


def from_median(median: float, error_factor: float) -> Call:
    """A lognormal given by its median and error factor at the 95 % level, by mu and sigma."""
    return call("lognormal-deviate", log(median), log(error_factor) / Z95)


@pytest.mark.parametrize(
    ("average", "error_factor", "mu", "sigma", "percentiles"),
    [
        (1e-3, 3.0, -7.1308063926, 0.6679088465, [2.6669131786e-4, 8.0007395357e-4, 2.4002218607e-3]),
        (1e-6, 10.0, log(3.7537817976e-7), 1.3998723383, [3.7537817976e-8, 3.7537817976e-7, 3.7537817976e-6]),
    ],
)
def test_lognormal_by_mean_and_error_factor(
    average: float, error_factor: float, mu: float, sigma: float, percentiles: list[float]
) -> None:
    """Source: Open-PSA Model Exchange Format, lognormal deviate (first row its own example), z = 1.64485363."""
    deviate = call("lognormal-deviate", average, error_factor, 0.95)
    found_mu, found_sigma = lognormal_parameters(arguments_of(deviate))
    assert float(found_mu) == pytest.approx(mu, rel=1e-9)
    assert float(found_sigma) == pytest.approx(sigma, rel=1e-9)
    assert quantiles(deviate) == pytest.approx(percentiles, rel=1e-9)
    assert mean(deviate) == average


@pytest.mark.parametrize(
    ("median", "error_factor", "expected"), [(1e-3, 3.0, 1.2498844582e-3), (1e-3, 10.0, 2.6639800977e-3)]
)
def test_lognormal_by_median_and_error_factor(median: float, error_factor: float, expected: float) -> None:
    """Source: mean = median exp(sigma^2/2), sigma = ln EF/z, closed form."""
    deviate = from_median(median, error_factor)
    assert mean(deviate) == pytest.approx(expected, rel=1e-9)
    assert quantiles(deviate)[2] == pytest.approx(median * error_factor, rel=1e-9)


@pytest.mark.parametrize(
    ("deviate", "average", "percentiles"),
    [
        (call("gamma-deviate", 0.5, 2e-3), 1e-3, [3.93214e-6, 4.5493642312e-4, 3.8414588207e-3]),
        (call("gamma-deviate", 2.0, 1e-3), 2e-3, [3.553615107e-4, 1.67834699e-3, 4.7438645184e-3]),
        (call("beta-deviate", 0.5, 249.5), 2e-3, [7.8879087e-6, 9.1219385e-4, 7.6764116e-3]),
        (call("beta-deviate", 2.0, 98.0), 0.02, [3.6012828e-3, 0.0168950486, 0.0470212397]),
        (call("beta-deviate", 5.2, 160.1), 0.0314579552, [0.0128397250, 0.0295849412, 0.0564758879]),
    ],
)
def test_gamma_and_beta(deviate: Call, average: float, percentiles: list[float]) -> None:
    """Source: scipy.stats, gamma by shape and scale; the last row's mean is printed as 0.0315 on an INL web page."""
    assert mean(deviate) == pytest.approx(average, rel=1e-8)
    assert quantiles(deviate) == pytest.approx(percentiles, rel=2e-6)


def test_histogram() -> None:
    """Source: Open-PSA Model Exchange Format, example of the histogram deviate; 140/180 1e-4 by hand."""
    deviate = call("histogram", 100.0, 170.0, 0.7e-4, 200.0, 1.1e-4, 210.0, 1.3e-4, 230.0, 1.0e-4, 280.0, 0.5e-4)
    assert mean(deviate) == pytest.approx(7.7777778e-5, rel=1e-8)
    assert quantiles(deviate) == pytest.approx([0.7e-4, 1.1e-4, 0.5e-4])


def sample(events: dict[str, Expression], method: str, parameters: dict[str, Expression] | None = None) -> Uncertainty:
    """Distribution of the AND of some events."""
    model = make_model({"TOP": both(*events)}, events)
    shared = make_events({}, parameters).parameters if parameters else {}
    model = type(model)(gates=model.gates, basic_events=model.basic_events, parameters=shared)
    found = quantify(model, Request(samples=SAMPLES, seed=11, sampling=method)).uncertainty
    assert found is not None
    return found


SIGMA = 1.8338882009  # of the product of three


def three_lognormals(scale: float) -> dict[str, Expression]:
    """Medians 1e-3, 2e-3 and 5e-2 times the scale; error factors 3, 5, 10."""
    return {"A": from_median(1e-3, 3.0), "B": from_median(2e-3, 5.0), "C": from_median(5e-2 * scale, 10.0)}


def assert_percentiles(found: Uncertainty, expected: dict[str, float]) -> None:
    """Within four standard errors: sqrt(p (1 - p)/n) over the density of the normal law of the logarithm."""
    for name, value in expected.items():
        p = int(name[1:]) / 100.0
        error = (p * (1.0 - p) / SAMPLES) ** 0.5 * SIGMA / norm.pdf(norm.ppf(p))
        assert abs(log(getattr(found, name) / value)) < 4.0 * error, name
        low, high = found.errors[name]
        assert low < getattr(found, name) < high


@pytest.mark.parametrize("method", ["monte-carlo", "latin-hypercube"])
def test_a_product_of_lognormals_is_lognormal(method: str) -> None:
    """Source: closed form; the third median is scaled by 1e-2, so that no draw is above 1."""
    found = sample(three_lognormals(1e-2), method)
    error = 5.3740024533e-9 * ((exp(SIGMA**2) - 1.0) / SAMPLES) ** 0.5
    assert found.mean == pytest.approx(5.3740024533e-9, abs=4.0 * error)
    assert_percentiles(found, {"p05": 4.8973416e-11, "p50": 1e-9, "p95": 2.04192413e-8})


@pytest.mark.parametrize("method", ["monte-carlo", "latin-hypercube"])
def test_draws_above_one_are_cut_and_pull_the_mean_down(method: str) -> None:
    """Source: closed form; as given, 1.6 % of the draws of the third event lie above 1 and count as 1, with
    E min(X, 1) = E X F((-mu - s^2)/s) + F(mu/s), F the standard normal law. Uncut, the mean would be 5.374e-7.
    """
    found = sample(three_lognormals(1.0), method)
    mu, s = log(5e-2), log(10.0) / Z95
    cut = exp(mu + s**2 / 2.0) * norm.cdf((-mu - s**2) / s) + norm.cdf(mu / s)
    expected = 5.3740024533e-7 * cut / exp(mu + s**2 / 2.0)
    error = 5.3740024533e-7 * ((exp(SIGMA**2) - 1.0) / SAMPLES) ** 0.5  # of the uncut product, a little too large
    assert found.mean == pytest.approx(expected, abs=3.0 * error)
    assert_percentiles(found, {"p05": 4.8973416e-9, "p50": 1e-7, "p95": 2.04192413e-6})
    model = make_model({"TOP": both("A", "B", "C")}, three_lognormals(1.0))
    notes = quantify(model, Request(samples=1000)).notes
    share = int(1000 * norm.cdf(mu / s))
    assert any(f"{n} sampled probabilities or rates lay outside" in note for n in (share, share + 1) for note in notes)


@pytest.mark.parametrize("method", ["monte-carlo", "latin-hypercube"])
def test_one_shared_draw_is_not_two_draws(method: str) -> None:
    """Source: closed form, median 1e-3, error factor 10: mean 5.03644278e-5 shared, 7.09678996e-6 independent."""
    deviate = from_median(1e-3, 10.0)
    reference = make_events({"A": "rate", "B": "rate"}).basic_events
    shared = sample({name: event.expression for name, event in reference.items()}, method, {"rate": deviate})  # type: ignore[misc]
    apart = sample({"A": deviate, "B": deviate}, method)
    sigma = log(10.0) / Z95
    for found, expected, variance in ((shared, 5.03644278e-5, 4.0 * sigma**2), (apart, 7.09678996e-6, 2.0 * sigma**2)):
        error = expected * ((exp(variance) - 1.0) / SAMPLES) ** 0.5
        assert found.mean == pytest.approx(expected, abs=4.0 * error)
    assert shared.p95 == pytest.approx(1e-4, rel=0.06)  # the square of the 95th percentile of one draw, 1e-2
    assert shared.p50 == pytest.approx(1e-6, rel=0.05)


def test_outside_sampling_the_mean_stands() -> None:
    """Source: Open-PSA Model Exchange Format: a deviate's default value is its mean."""
    result = quantify(make_model({"TOP": Reference("A")}, {"A": call("lognormal-deviate", 1e-3, 3.0, 0.95)}))
    assert result.probability == pytest.approx(1e-3, rel=1e-12)
