"""What drives the uncertainty: against scipy's rank correlation and models whose shares are known in closed form."""

from __future__ import annotations

from math import asin, exp, log, pi

import numpy as np
import pytest
from scipy.stats import spearmanr

from faulttree.engine.analysis.drivers import find_drivers, first_order_share
from faulttree.engine.events.sampling import METHODS, Source
from faulttree.engine.model import Expression, Model
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.results import Driver, Uncertainty
from tests.engine.events.builders import call, make_events
from tests.engine.models import both, make_model

SAMPLES = 20_000


def draw(count: int, columns: int) -> np.ndarray:
    """Standard normal draws."""
    return np.random.default_rng(5).standard_normal((count, columns))


def measure(drawn: np.ndarray, tops: np.ndarray) -> dict[str, Driver]:
    """Drivers by the number of their column."""
    sources = tuple(Source(str(d), 0) for d in range(drawn.shape[1]))
    return {driver.owner: driver for driver in find_drivers(sources, drawn.T, tops)}


@pytest.mark.parametrize("tied", [False, True])
def test_rank_correlation_is_that_of_scipy(tied: bool) -> None:
    """Source: scipy.stats.spearmanr, with and without equal values."""
    drawn = draw(3_000, 4)
    drawn = np.round(drawn, 1) if tied else drawn
    tops = np.exp(drawn @ [0.1, -0.5, 2.0, 0.0])
    found = measure(drawn, np.round(tops, 2) if tied else tops)
    for d in range(4):
        expected = spearmanr(drawn[:, d], np.round(tops, 2) if tied else tops).statistic
        assert found[str(d)].rank_correlation == pytest.approx(expected, abs=1e-12)


def test_the_interval_holds_the_true_correlation_as_often_as_it_says() -> None:
    """Source: two normals with correlation r have Spearman's (6/pi) asin(r/2) (Pearson 1907, from memory); 95 %."""
    rng = np.random.default_rng(8)
    r, inside = 0.6, 0
    for _ in range(400):
        pair = rng.multivariate_normal([0.0, 0.0], [[1.0, r], [r, 1.0]], 300)
        low, high = measure(pair[:, :1], pair[:, 1])["0"].rank_interval or (1.0, 1.0)
        inside += low <= 6.0 / pi * asin(r / 2.0) <= high
    assert 0.92 <= inside / 400 <= 0.98


def test_shares_of_a_linear_model() -> None:
    """Source: closed form; of a sum of a_i X_i, X_i standard normal, source i has the share a_i^2 / sum a^2."""
    weights = np.array([4.0, 2.0, 1.0, 0.0])
    drawn = draw(50_000, 4)
    found = measure(drawn, drawn @ weights)
    for d, expected in enumerate(weights**2 / np.sum(weights**2)):
        driver = found[str(d)]
        assert driver.variance_share is not None
        assert driver.variance_share_error is not None
        assert driver.variance_share == pytest.approx(expected, abs=4.0 * driver.variance_share_error)
        assert driver.variance_share_error < 0.01


def test_a_source_without_effect_has_no_share() -> None:
    """Source: a source without effect has the share 0; over 300 runs the mean is within 3.5 of its standard errors."""
    rng = np.random.default_rng(3)
    shares = []
    for _ in range(300):
        ranked = rng.permutation(1_000) - 499.5
        shares.append(first_order_share(ranked, rng.standard_normal(1_000))[0])
    assert np.mean(np.array(shares, float)) == pytest.approx(0.0, abs=3.5 * 1_000**-0.5 / 300**0.5)


def lognormal(median: float, sigma: float) -> Expression:
    """A lognormal by the median and sigma of its logarithm."""
    return call("lognormal-deviate", log(median), sigma)


def run(sigmas: dict[str, float], method: str, samples: int = SAMPLES) -> Uncertainty:
    """The AND of events with lognormal probabilities."""
    model = make_model({"TOP": both(*sigmas)}, {name: lognormal(1e-3, sigma) for name, sigma in sigmas.items()})
    found = quantify(model, Request(samples=samples, seed=3, sampling=method)).uncertainty
    assert found is not None
    return found


@pytest.mark.parametrize("method", METHODS)
def test_a_product_of_lognormals(method: str) -> None:
    """Source: closed form. Rank correlation (6/pi) asin(s_i/(2 s)), s^2 the sum of s_i^2 (ranks are those of the
    logarithms, which are normal); first-order share (exp(s_i^2) - 1)/(exp(s^2) - 1).
    """
    sigmas = {"A": 0.5, "B": 0.3, "C": 0.1}
    found = run(sigmas, method)
    assert [driver.owner for driver in found.drivers] == ["basic event A", "basic event B", "basic event C"]
    assert found.driver_samples == SAMPLES
    total = sum(sigma**2 for sigma in sigmas.values())
    for driver, sigma in zip(found.drivers, sigmas.values(), strict=True):
        low, high = driver.rank_interval or (1.0, 1.0)
        expected = 6.0 / pi * asin(sigma / total**0.5 / 2.0)
        assert driver.rank_correlation == pytest.approx(expected, abs=1.3 * (high - low))  # five standard errors
        share = (exp(sigma**2) - 1.0) / (exp(total) - 1.0)
        assert driver.variance_share == pytest.approx(share, abs=5.0 * (driver.variance_share_error or 0.0))


def test_a_shared_parameter_is_one_source_and_a_constant_is_none() -> None:
    """Source: by hand; the tree is the square of one deviate times a constant, so the correlation is 1."""
    events = make_events({"A": "rate", "B": "rate"}, {"rate": lognormal(1e-3, 0.5)})
    plain = make_model({"TOP": both("A", "B", "C", "D")}, {"A": 0.0, "B": 0.0, "C": 0.5, "D": lognormal(0.1, 0.0)})
    merged = {**plain.basic_events, **events.basic_events}
    model = Model(gates=plain.gates, basic_events=merged, parameters=events.parameters)
    found = quantify(model, Request(samples=2_000)).uncertainty
    assert found is not None
    first, second = found.drivers
    assert (first.owner, first.rank_correlation) == ("parameter rate", pytest.approx(1.0))
    assert first.variance_share == pytest.approx(1.0, abs=0.01)
    assert (second.owner, second.rank_correlation, second.variance_share) == ("basic event D", None, None)


def test_a_large_run_says_on_how_many_samples_drivers_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("faulttree.engine.analysis.uncertainty.MOST_KEPT", 3_000)
    model = make_model({"TOP": both("A", "B")}, {"A": lognormal(1e-3, 0.5), "B": lognormal(1e-3, 0.2)})
    result = quantify(model, Request(samples=9_000))
    assert result.uncertainty is not None
    assert result.uncertainty.driver_samples == 3_000
    assert any("measured on the first 3,000 of 9,000 samples" in note for note in result.notes)
    assert result.uncertainty.drivers[0].owner == "basic event A"
