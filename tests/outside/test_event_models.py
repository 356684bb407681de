"""Event models: values of the built-in failure models, each through a whole tree of one event.

Formulas: Open-PSA Model Exchange Format, stochastic layer. Values: closed form, and a second way
that each test names.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import expm
from scipy.stats import weibull_min

from faulttree.engine.model import Expression, Reference
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request, TimeGrid
from tests.engine.events.builders import TIME, call
from tests.engine.models import make_model


def unavailability(expression: Expression, hours: float) -> float:
    """Probability of a top event that is one basic event."""
    model = make_model({"TOP": Reference("event")}, {"event": expression})
    probability = quantify(model, Request(mission_time=hours)).probability
    assert probability is not None
    return probability


@pytest.mark.parametrize(
    ("rate", "hours", "expected"),
    [(1e-4, 1000.0, 0.095162581964), (1.23e-4, 720.0, 0.0847518058031), (1e-3, 8760.0, 0.999843115391)],
)
def test_exponential(rate: float, hours: float, expected: float) -> None:
    """Source: 1 - exp(-rate t); the second row is the pump of the Open-PSA Model Exchange Format."""
    assert unavailability(call("exponential", rate, TIME), hours) == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize(
    ("gamma", "rate", "repair", "hours", "expected"),
    [
        (0.0, 1e-4, 1e-2, 100.0, 0.0062948615884),
        (0.01, 1e-4, 1e-2, 100.0, 0.00993705138412),
        (0.05, 1e-4, 0.0, 1000.0, 0.140404452866),
        (0.0, 1e-3, 0.1, 1e6, 0.00990099009901),
    ],
)
def test_glm(gamma: float, rate: float, repair: float, hours: float, expected: float) -> None:
    """Source: Open-PSA Model Exchange Format, built-in GLM; two-state Markov chain by matrix exponential."""
    value = unavailability(call("GLM", gamma, rate, repair, TIME), hours)
    assert value == pytest.approx(expected, rel=1e-11)
    chain = np.array([1.0 - gamma, gamma]) @ expm(np.array([[-rate, rate], [repair, -repair]]) * hours)
    assert value == pytest.approx(chain[1], rel=1e-8)


def test_glm_without_rates_stays_at_the_probability_on_demand() -> None:
    """Source: limit of the formula for both rates 0."""
    assert unavailability(call("GLM", 0.03, 0.0, 0.0, TIME), 100.0) == 0.03


@pytest.mark.parametrize(
    ("scale", "shape", "shift", "hours", "expected"),
    [
        (1000.0, 2.0, 0.0, 500.0, 0.221199216929),
        (1000.0, 2.0, 100.0, 500.0, 0.147856211034),
        (1000.0, 0.5, 0.0, 500.0, 0.506931308605),
        (8000.0, 3.5, 0.0, 4000.0, 0.0845946878138),
        (8000.0, 3.5, 50.0, 49.0, 0.0),
    ],
)
def test_weibull(scale: float, shape: float, shift: float, hours: float, expected: float) -> None:
    """Source: Open-PSA Model Exchange Format, built-in Weibull; scipy.stats.weibull_min; 0 before the shift."""
    value = unavailability(call("Weibull", scale, shape, shift, TIME), hours)
    assert value == pytest.approx(expected, rel=1e-11)
    assert value == pytest.approx(weibull_min.cdf(hours, shape, shift, scale), rel=1e-12)


@pytest.mark.parametrize(
    ("first", "hours", "expected"),
    [
        (720.0, 100.0, 0.00995016625083),
        (720.0, 720.0 - 1e-9, 0.0694691041888),
        (720.0, 720.0, 0.0),
        (720.0, 721.0, 9.99950002e-5),
        (720.0, 1000.0, 0.0276116331988),
        (720.0, 2000.0, 0.0544608641096),
        (720.0, 8760.0, 0.0119282871381),
        (100.0, 50.0, 0.004987520807),
        (100.0, 100.0 - 1e-9, 0.009950166251),
        (100.0, 150.0, 0.004987520807),
        (100.0, 700.0, 0.05823546642),
        (100.0, 900.0, 0.007968085163),
    ],
)
def test_periodic_test_with_instantaneous_repair(first: float, hours: float, expected: float) -> None:
    """Source: 1 - exp(-rate (t - last test)), rate 1e-4, interval 720 h; just after the test at a test instant."""
    value = unavailability(call("periodic-test", 1e-4, 720.0, first, TIME), hours)
    assert value == pytest.approx(expected, rel=1e-8)


def test_average_between_two_tests() -> None:
    """Source: 1 - (1 - exp(-rate T))/(rate T) by quadrature (0.0351513307112), against the usual rate T/2 = 0.036."""
    model = make_model({"TOP": Reference("event")}, {"event": call("periodic-test", 1e-4, 720.0, 720.0, TIME)})
    for grid in (TimeGrid(720.0, 1440.0, 720.0), TimeGrid(0.0, 7200.0, 500.0)):
        stop = 7000.0 if grid.start == 0.0 else 1440.0
        course = quantify(model, Request(mission_time=0.0, time_grid=grid)).time
        assert course is not None
        assert course.points[-1].t == stop
        whole = [quad(lambda t: -np.expm1(-1e-4 * t), 0.0, 720.0)[0]] * int(stop / 720.0)
        rest = quad(lambda t: -np.expm1(-1e-4 * t), 0.0, stop % 720.0)[0]
        exact = (sum(whole) + rest) / stop if grid.start == 0.0 else whole[0] / 720.0
        assert course.average_probability == pytest.approx(exact, rel=1e-10)
        if grid.start:
            assert course.average_probability == pytest.approx(0.0351513307112, rel=1e-10)
