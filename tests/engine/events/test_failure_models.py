"""Failure models against Markov chains solved by the matrix exponential, and against their own derivatives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.linalg import expm

from faulttree.engine.events.failure_models import MODELS

Array = NDArray[np.float64]

RATES = st.floats(1e-7, 2.0)


def model_values(name: str, *arguments: float) -> tuple[float, float, float]:
    """Q, w, v of a model; the last argument is the time."""
    model = MODELS[name, len(arguments)]
    arrays = [np.asarray(value, np.float64) for value in arguments]
    w, v = model.intensities(*arrays)
    return float(model.unavailability(*arrays)), float(w), float(v)


def walk_chain(rate: float, repair: float, interval: float, first: float, t: float) -> Array:
    """Working, failed and not found, under repair: a chain whose second state moves to the third at each test."""
    generator = np.array([[-rate, rate, 0.0], [0.0, 0.0, 0.0], [repair, 0.0, -repair]])
    state, now, test = np.array([1.0, 0.0, 0.0]), 0.0, first
    while test <= t:
        state = state @ expm(generator * (test - now))
        state = np.array([state[0], 0.0, state[1] + state[2]])
        now, test = test, test + interval
    return np.asarray(state @ expm(generator * (t - now)))


@given(RATES, RATES, st.floats(0.0, 1.0), st.floats(0.0, 1000.0))
def test_a_repairable_component_follows_its_two_state_chain(rate: float, repair: float, gamma: float, t: float) -> None:
    q, w, v = model_values("GLM", gamma, rate, repair, t)
    up, down = np.array([1.0 - gamma, gamma]) @ expm(np.array([[-rate, rate], [repair, -repair]]) * t)
    assert q == pytest.approx(down, rel=1e-9, abs=1e-13)
    assert w == pytest.approx(rate * up, rel=1e-9, abs=1e-13)
    assert v == pytest.approx(repair * down, rel=1e-9, abs=1e-13)


def test_without_any_rate_the_probability_on_demand_stays() -> None:
    assert model_values("GLM", 0.3, 0.0, 0.0, 50.0) == (0.3, 0.0, 0.0)


@given(RATES, RATES, st.floats(1.0, 300.0), st.floats(0.0, 300.0), st.floats(0.0, 1500.0))
def test_a_component_repaired_after_its_test_follows_its_three_state_chain(
    rate: float, repair: float, interval: float, first: float, t: float
) -> None:
    working, _, under_repair = walk_chain(rate, repair, interval, first, t)
    q, w, v = model_values("periodic-test", rate, repair, interval, first, t)
    assert q == pytest.approx(1.0 - working, rel=1e-7, abs=1e-10)
    assert w == pytest.approx(rate * working, rel=1e-7, abs=1e-10)
    assert v == pytest.approx(repair * under_repair, rel=1e-7, abs=1e-10)


def test_quick_repair_and_long_intervals_do_not_overflow() -> None:
    rate, repair, interval = 1e-4, 0.5, 8760.0
    working, _, _ = walk_chain(rate, repair, interval, interval, 30000.0)
    q, _, _ = model_values("periodic-test", rate, repair, interval, interval, 30000.0)
    assert q == pytest.approx(1.0 - working, rel=1e-9)


def test_very_quick_repair_is_the_form_without_repair_time() -> None:
    four = model_values("periodic-test", 1e-3, 100.0, 150.0, 777.0)[0]
    five = model_values("periodic-test", 1e-3, 1e9, 100.0, 150.0, 777.0)[0]
    assert five == pytest.approx(four, rel=1e-6)


@pytest.mark.parametrize("ratio", [1.0, 1.0 + 1e-13, 1.0 + 1e-9])
def test_equal_failure_and_repair_rates_are_no_special_case(ratio: float) -> None:
    working, _, _ = walk_chain(0.01, 0.01 * ratio, 100.0, 50.0, 420.0)
    assert model_values("periodic-test", 0.01, 0.01 * ratio, 100.0, 50.0, 420.0)[0] == pytest.approx(1.0 - working)


@pytest.mark.parametrize("k", range(1, 60))
def test_at_a_test_instant_the_value_just_after_the_test_holds(k: int) -> None:
    interval, first = 0.1, 0.3
    instant = first + k * interval
    assert model_values("periodic-test", 0.02, interval, first, instant)[0] == pytest.approx(0.0, abs=1e-12)
    before = model_values("periodic-test", 0.02, interval, first, instant - 1e-6)[0]
    assert before == pytest.approx(-np.expm1(-0.02 * (interval - 1e-6)), rel=1e-6)


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("exponential", (0.02,)),
        ("GLM", (0.1, 0.02, 0.3)),
        ("Weibull", (40.0, 0.7, 0.0)),
        ("Weibull", (40.0, 2.5, 3.0)),
        ("periodic-test", (0.02, 25.0, 10.0)),
        ("periodic-test", (0.02, 0.3, 25.0, 10.0)),
    ],
)
@pytest.mark.parametrize("t", [4.0, 12.0, 30.0, 47.0, 71.0])
def test_failures_less_repairs_are_the_slope_of_the_unavailability(
    name: str, arguments: tuple[float, ...], t: float
) -> None:
    step = 1e-4
    slope = (model_values(name, *arguments, t + step)[0] - model_values(name, *arguments, t - step)[0]) / (2.0 * step)
    _, w, v = model_values(name, *arguments, t)
    assert w - v == pytest.approx(slope, rel=1e-6, abs=1e-9)


def test_a_weibull_law_with_shape_one_is_exponential_from_its_first_instant() -> None:
    for t in (0.0, 1.0, 500.0):
        assert model_values("Weibull", 250.0, 1.0, 0.0, t) == pytest.approx(model_values("exponential", 1 / 250.0, t))


def test_a_weibull_law_has_no_failures_before_its_shift_and_the_limit_from_above_at_it() -> None:
    assert model_values("Weibull", 100.0, 1.5, 20.0, 19.0) == (0.0, 0.0, 0.0)
    assert model_values("Weibull", 100.0, 1.5, 20.0, 20.0)[1] == 0.0
    assert model_values("Weibull", 100.0, 0.5, 20.0, 20.0)[1] == np.inf


def test_a_weibull_law_far_past_its_scale_is_certain_and_quiet() -> None:
    assert model_values("Weibull", 1e-3, 200.0, 0.0, 1e6) == (1.0, 0.0, 0.0)


def test_arrays_of_times_give_arrays_of_values() -> None:
    times = np.array([1.0, 9.0, 11.0, 40.0])
    for (name, count), model in MODELS.items():
        scalars = [np.asarray(x) for x in (0.5, 0.3, 7.0, 2.0)[: count - 1]]
        together = model.unavailability(*scalars, times)
        alone = [model_values(name, *map(float, scalars), t)[0] for t in times]
        assert together == pytest.approx(alone)
