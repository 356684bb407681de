"""Posteriors against numerical integration, whatever prior and data; what is refused; what a picture shows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from faulttree.engine.errors import BadModel
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.learning.priors import (
    Prior,
    beta_prior,
    constrained_prior,
    gamma_prior,
    jeffreys_prior,
    lognormal_prior,
    prior_from_expression,
)
from faulttree.engine.learning.update import Experience, binomial, poisson, trace, update
from faulttree.engine.model import Call, Model, Number, ParameterReference

SETTINGS = settings(max_examples=60, deadline=None)
PRIORS = st.one_of(
    st.builds(gamma_prior, st.floats(0.3, 20.0), st.floats(10.0, 1e5)),
    st.builds(beta_prior, st.floats(0.3, 20.0), st.floats(0.5, 1e4)),
    st.builds(lambda m, ef: lognormal_prior(median=m, error_factor=ef), st.floats(1e-6, 0.05), st.floats(1.5, 20.0)),
)
DATA = st.one_of(
    st.builds(poisson, st.integers(0, 20), st.floats(10.0, 1e5)),
    st.builds(lambda k, more: binomial(k, k + more), st.integers(0, 20), st.integers(1, 5000)),
)

CASES = st.tuples(PRIORS, DATA).filter(lambda case: (case[0].law, case[1].kind) != ("beta", "poisson"))


@SETTINGS
@given(CASES)
def test_the_mean_and_percentiles_agree_with_integration(case: tuple[Prior, Experience]) -> None:
    prior, data = case
    updated = update(prior, data)
    top = 1.0 if data.kind == "binomial" or prior.law == "beta" else math.inf

    def density(log_x: float) -> float:
        x = np.array([math.exp(log_x)])
        return float(np.exp(prior.log_density(x) + log_x + data.log_likelihood(x) - shift)[0])

    points = np.log([updated.p05, updated.p50, updated.p95])
    shift = 0.0
    shift = max(math.log(density(point)) for point in points)
    low, high = points[0] - 30.0, min(points[2] + 8.0, math.log(top) if math.isfinite(top) else 1e9)
    inner = [point for point in points if low < point < high]

    def whole(weight: float, to: float) -> float:
        def value(log_x: float) -> float:
            return density(log_x) * math.exp(weight * log_x)

        near = [point for point in inner if point < to]
        return float(integrate.quad(value, low, to, points=near or None, limit=400)[0])

    total = whole(0.0, high)
    assert updated.mean == pytest.approx(whole(1.0, high) / total, rel=2e-4)
    for share, point in zip((0.05, 0.5, 0.95), points, strict=True):
        assert whole(0.0, min(point, high)) / total == pytest.approx(share, abs=3e-4)


@SETTINGS
@given(CASES)
def test_the_expression_keeps_the_mean(case: tuple[Prior, Experience]) -> None:
    prior, data = case
    updated = update(prior, data)
    value = Evaluator(Model(), None).value("x", updated.expression)
    assert float(np.mean(value)) == pytest.approx(updated.mean, rel=1e-9)
    if updated.kept is not None:
        assert updated.kept[2] / updated.kept[0] == pytest.approx(updated.p95 / updated.p05, rel=1e-9)


@SETTINGS
@given(CASES)
def test_a_picture_is_finite_and_its_posterior_peaks_within(case: tuple[Prior, Experience]) -> None:
    prior, data = case
    curves = trace(update(prior, data))
    assert np.all(np.isfinite(curves.posterior))
    assert np.all(np.diff(curves.x) > 0)
    assert curves.posterior.max() == 1.0
    assert curves.prior is not None


def test_a_beta_prior_is_of_no_rate() -> None:
    with pytest.raises(BadModel, match="of a probability"):
        update(beta_prior(1.0, 0.5), poisson(0, 10.0))


def test_an_improper_prior_has_no_mean_and_no_curve() -> None:
    prior = jeffreys_prior("rate")
    assert (prior.mean, prior.quantile(0.5)) == (None, None)
    assert trace(update(prior, poisson(2, 100.0))).prior is None


@pytest.mark.parametrize(
    ("expression", "law", "a", "b"),
    [
        (Call("gamma-deviate", (Number(2.0), Number(1e-3))), "gamma", 2.0, 1000.0),
        (Call("beta-deviate", (Number(2.0), Number(98.0))), "beta", 2.0, 98.0),
        (Call("lognormal-deviate", (Number(-7.0), Number(0.5))), "lognormal", -7.0, 0.5),
        (
            Call("lognormal-deviate", (Number(1e-3), Number(3.0), Number(0.95))),
            "lognormal",
            -7.1308063926,
            0.6679088465,
        ),
        (Number(1e-4), "gamma", 0.5, 5000.0),
    ],
)
def test_priors_from_the_library(expression, law, a, b) -> None:  # type: ignore[no-untyped-def]
    """Source of the lognormal: Open-PSA Model Exchange Format, lognormal deviate (mean 0.001, error factor 3)."""
    prior = prior_from_expression(expression, "rate")
    assert prior is not None
    assert (prior.law, prior.a, prior.b) == (law, pytest.approx(a), pytest.approx(b))


@pytest.mark.parametrize(
    "expression", [Number(0.0), ParameterReference("p"), Call("uniform-deviate", (Number(0.0), Number(1.0)))]
)
def test_what_is_no_prior(expression) -> None:  # type: ignore[no-untyped-def]
    assert prior_from_expression(expression, "rate") is None


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: gamma_prior(0.0, 1.0), "above 0"),
        (lambda: beta_prior(1.0, math.inf), "above 0"),
        (lambda: lognormal_prior(median=1e-3, error_factor=1.0), "more than 1"),
        (lambda: constrained_prior("probability", 1.0), "less than 1"),
        (lambda: poisson(-1, 10.0), "0 or more"),
        (lambda: poisson(1, 0.0), "above 0"),
        (lambda: binomial(3, 2), "more failures than demands"),
    ],
)
def test_what_can_not_be_is_refused(make, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadModel, match=words):
        make()
