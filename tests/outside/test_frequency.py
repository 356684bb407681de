"""Top-event frequency and expected number of occurrences. Method: Vesely 1970, Kumamoto and Henley (from memory)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm, null_space
from scipy.stats import weibull_min

from faulttree.engine.model import Formula, Reference
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request, TimeGrid
from faulttree.engine.results import TimeCourse
from tests.engine.events.builders import TIME, call
from tests.engine.models import both, combine, either, make_model

RATE, REPAIR = 1e-3, 0.1
TWO_OF_THREE = combine("atleast", "A", "B", "C", low=2)


def follow(top: Formula, events: dict[str, object], start: float, stop: float, step: float) -> TimeCourse:
    """Course of the top event over a grid."""
    model = make_model({"TOP": top}, events)  # type: ignore[arg-type]
    course = quantify(model, Request(mission_time=stop, time_grid=TimeGrid(start, stop, step))).time
    assert course is not None
    return course


def repairable(names: str, gamma: float = 0.0) -> dict[str, object]:
    """Identical repairable components."""
    return {name: call("GLM", gamma, RATE, REPAIR, TIME) for name in names}


@pytest.mark.parametrize(
    ("top", "names", "probability", "frequency", "failed"),
    [
        (both("A", "B"), "AB", 9.80296049407e-5, 1.96059209881e-5, 2),
        (either("A", "B"), "AB", 0.0197039505931, 0.00196059209881, 1),
        (TWO_OF_THREE, "ABC", 0.000292147634526, 5.82354088757e-5, 2),
    ],
)
def test_steady_state(top: Formula, names: str, probability: float, frequency: float, failed: int) -> None:
    """Source: 2 q w, 2 (1 - q) w, 6 q (1 - q) w with q = l/(l + m), w = l m/(l + m); birth-death chain's null space."""
    steady = RATE / (RATE + REPAIR)
    point = follow(top, repairable(names, steady), 0.0, 100.0, 50.0).points[1]
    assert point.probability == pytest.approx(probability, rel=1e-11)
    assert point.frequency == pytest.approx(frequency, rel=1e-11)
    n = len(names)
    chain = np.zeros((n + 1, n + 1))
    for k in range(n):
        chain[k, k + 1] = (n - k) * RATE
        chain[k + 1, k] = (k + 1) * REPAIR
    chain -= np.diag(chain.sum(axis=1))
    state = null_space(chain.T)[:, 0]
    state /= state.sum()
    assert point.frequency == pytest.approx(state[failed - 1] * chain[failed - 1, failed], rel=1e-9)


@pytest.mark.parametrize(
    ("top", "names", "frequencies", "expected", "first_passage"),
    [
        (
            both("A", "B"),
            "AB",
            (1.2510472612e-5, 1.94815086578e-5, 1.96051236393e-5),
            0.00176745255392,
            0.00175197555139,
        ),
        (TWO_OF_THREE, "ABC", (3.72951627554e-5, None, 5.82330644347e-5), 0.00525275138502, 0.00515910068057),
    ],
)
def test_expected_number_of_failures(
    top: Formula, names: str, frequencies: tuple[float | None, ...], expected: float, first_passage: float
) -> None:
    """Source: quadrature of w(t) over 100 h, components new at 0; the absorbing chain's first passage lies below it."""
    course = follow(top, repairable(names), 0.0, 100.0, 10.0)
    for k, frequency in zip((1, 5, 10), frequencies, strict=True):
        if frequency is not None:
            assert course.points[k].frequency == pytest.approx(frequency, rel=1e-10)
    assert course.expected_failures == pytest.approx(expected, rel=1e-10)
    n = len(names)
    chain = np.array([[-n * RATE, n * RATE, 0.0], [REPAIR, -REPAIR - (n - 1) * RATE, (n - 1) * RATE], [0.0, 0.0, 0.0]])
    assert expm(chain * 100.0)[0, 2] == pytest.approx(first_passage, rel=1e-9)
    assert course.expected_failures > first_passage


def test_without_repair_the_expected_number_is_the_probability() -> None:
    """Source: for events that are not repaired W(0, t) = Q(t); closed form of two exponentials."""
    events: dict[str, object] = {"A": call("exponential", 1e-3, TIME), "B": call("exponential", 2e-3, TIME)}
    course = follow(both("A", "B"), events, 0.0, 100.0, 100.0)
    assert course.points[-1].frequency == pytest.approx(0.000319844262147, rel=1e-10)
    assert course.points[-1].probability == pytest.approx(0.0172500495678, rel=1e-10)
    assert course.expected_failures == pytest.approx(0.0172500495678, rel=1e-10)


@pytest.mark.parametrize("shape", [0.5, 0.8, 1.0, 1.3, 4.0])
def test_the_expected_number_holds_where_a_weibull_law_begins(shape: float) -> None:
    """Source: W(0, t) = Q(t) without repair; scipy.stats.weibull_min."""
    course = follow(Reference("A"), {"A": call("Weibull", 200.0, shape, 30.0, TIME)}, 0.0, 100.0, 50.0)
    exact = weibull_min.cdf(100.0, shape, 30.0, 200.0)
    assert course.points[-1].probability == pytest.approx(exact, rel=1e-12)
    assert course.expected_failures == pytest.approx(exact, rel=1e-7)


def test_an_infinite_frequency_is_left_out_and_the_rest_is_given() -> None:
    """Source: w(t) of a Weibull law with a shape below 1 has no limit at its start."""
    course = follow(Reference("A"), {"A": call("Weibull", 200.0, 0.5, 0.0, TIME)}, 0.0, 100.0, 50.0)
    assert course.points[0].frequency is None
    assert course.points[1].frequency is not None
    assert course.expected_failures == pytest.approx(weibull_min.cdf(100.0, 0.5, 0.0, 200.0), rel=1e-7)


def test_events_without_a_course_are_named() -> None:
    """Source: definition of w(t): a constant unavailability is a state and starts nothing."""
    model = make_model(
        {"TOP": either(both("A", "B"), "C")}, {"A": call("exponential", 1e-3, TIME), "B": 0.1, "C": 0.01}
    )
    result = quantify(model, Request(mission_time=10.0, time_grid=TimeGrid(0.0, 10.0, 5.0)))
    assert result.time is not None
    assert result.time.points[0].frequency == pytest.approx(0.99 * 0.1 * 1e-3, rel=1e-12)
    assert any("2 of 3 events have a probability that does not change with time" in note for note in result.notes)


def test_a_frequency_that_does_not_follow_is_not_given() -> None:
    """Source: an unavailability alone does not say how often a repaired component fails."""
    model = make_model({"TOP": either("A", "B")}, {"A": call("mul", 1e-4, TIME), "B": 0.1})
    result = quantify(model, Request(mission_time=10.0, time_grid=TimeGrid(0.0, 10.0, 5.0)))
    assert result.time is not None
    assert result.time.expected_failures is None
    assert all(point.frequency is None for point in result.time.points)
    assert any("no failure intensity follows from the model of A" in note for note in result.notes)
