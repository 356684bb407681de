"""Random deviates: their means against the integral of their quantiles."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from faulttree.engine.events import deviates


def arrays(*values: float) -> list[np.ndarray]:
    """Scalar arrays."""
    return [np.asarray(value, np.float64) for value in values]


def quantile(name: str, arguments: list[np.ndarray], u: float) -> float:
    """One quantile."""
    return float(deviates.quantile_of(name, arguments, np.asarray(u)))


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("uniform-deviate", (0.1, 0.4)),
        ("normal-deviate", (0.5, 0.1)),
        ("lognormal-deviate", (0.01, 3.0, 0.95)),
        ("lognormal-deviate", (0.01, 2.0, 0.9)),
        ("lognormal-deviate", (-5.0, 0.8)),
        ("gamma-deviate", (2.0, 0.001)),
        ("beta-deviate", (2.0, 98.0)),
        ("histogram", (0.0, 1.0, 0.2, 3.0, 0.5)),
    ],
)
def test_the_mean_is_the_integral_of_the_quantiles(name: str, values: tuple[float, ...]) -> None:
    arguments = arrays(*values)
    edges = [0.0, 1e-6, 1e-3, 1.0 / 3.0, 0.9, 0.999, 1.0 - 1e-6, 1.0]  # 1/3: the histogram's jump
    parts = [quad(lambda u: quantile(name, arguments, u), a, b, epsabs=1e-13)[0] for a, b in itertools.pairwise(edges)]
    assert float(deviates.mean_of(name, arguments)) == pytest.approx(sum(parts), rel=2e-5)


@given(st.floats(1e-9, 0.5), st.floats(1.0, 30.0), st.floats(0.6, 0.99))
def test_the_error_factor_is_the_ratio_of_the_level_to_the_median(mean: float, factor: float, level: float) -> None:
    arguments = arrays(mean, factor, level)
    median = quantile("lognormal-deviate", arguments, 0.5)
    assert quantile("lognormal-deviate", arguments, level) == pytest.approx(median * factor)
    assert float(deviates.mean_of("lognormal-deviate", arguments)) == mean


@pytest.mark.parametrize("name", ["uniform-deviate", "normal-deviate", "gamma-deviate", "beta-deviate"])
@given(u=st.tuples(st.floats(1e-6, 1 - 1e-6), st.floats(1e-6, 1 - 1e-6)).map(sorted))
def test_quantiles_rise(name: str, u: list[float]) -> None:
    arguments = arrays(0.5, 2.0)
    assert quantile(name, arguments, u[0]) <= quantile(name, arguments, u[1])


@pytest.mark.parametrize(
    ("name", "values", "word"),
    [
        ("uniform-deviate", (2.0, 1.0), "bound"),
        ("normal-deviate", (0.0, -1.0), "negative"),
        ("gamma-deviate", (0.0, 1.0), "above 0"),
        ("beta-deviate", (1.0, -1.0), "above 0"),
        ("lognormal-deviate", (0.0, 3.0, 0.95), "mean"),
        ("lognormal-deviate", (1e-3, 0.9, 0.95), "error factor"),
        ("lognormal-deviate", (1e-3, 3.0, 0.5), "level"),
        ("lognormal-deviate", (1e-3, 3.0, 1.0), "level"),
        ("lognormal-deviate", (-7.0, -1.0), "Sigma"),
        ("histogram", (0.0, 2.0, 0.1, 1.0, 0.2), "rise"),
    ],
)
def test_arguments_out_of_range_are_named(name: str, values: tuple[float, ...], word: str) -> None:
    assert word in deviates.find_fault(name, arrays(*values))


@pytest.mark.parametrize(
    ("name", "values"),
    [("uniform-deviate", (0.3, 0.3)), ("normal-deviate", (0.3, 0.0)), ("lognormal-deviate", (0.3, 1.0, 0.95))],
)
def test_a_deviate_without_spread_is_its_mean(name: str, values: tuple[float, ...]) -> None:
    assert deviates.find_fault(name, arrays(*values)) == ""
    assert quantile(name, arrays(*values), 0.01) == pytest.approx(0.3)
