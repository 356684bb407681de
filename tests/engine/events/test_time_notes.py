"""What a run says about a curve over time."""

from __future__ import annotations

import numpy as np
import pytest

from faulttree.engine.model import Expression
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request, TimeGrid
from faulttree.engine.results import Quantification
from tests.engine.events.builders import TIME, call
from tests.engine.models import combine, either, make_model


def follow(events: dict[str, float | Expression], grid: TimeGrid, top: str = "or") -> Quantification:
    """Quantify a gate over some events, over a grid."""
    model = make_model({"TOP": combine(top, *events)}, events)
    return quantify(model, Request(mission_time=grid.stop, time_grid=grid))


def test_a_grid_longer_than_a_block_is_followed_to_its_end() -> None:
    course = follow({"a": call("exponential", 1e-3, TIME)}, TimeGrid(0.0, 700.0, 1.0)).time
    assert course is not None
    assert len(course.points) == 701
    times = np.arange(701.0)
    assert [point.probability for point in course.points] == pytest.approx((-np.expm1(-1e-3 * times)).tolist())
    frequencies = [point.frequency for point in course.points]
    assert frequencies == pytest.approx((1e-3 * np.exp(-1e-3 * times)).tolist())


def test_an_average_over_corners_says_that_it_is_approximate() -> None:
    stepped = call("ite", call("gt", TIME, 4.3), 0.2, 0.1)
    notes = follow({"a": stepped, "b": call("exponential", 1e-3, TIME)}, TimeGrid(0.0, 10.0, 5.0)).notes
    assert any("Averages over time are approximate" in note and note.endswith(" for a.") for note in notes)
    smooth = follow({"b": call("exponential", 1e-3, TIME)}, TimeGrid(0.0, 10.0, 5.0)).notes
    assert not any("approximate" in note for note in smooth)


def test_a_tree_that_is_not_coherent_has_no_frequency() -> None:
    result = follow({"a": call("exponential", 1e-3, TIME), "b": 0.1}, TimeGrid(0.0, 10.0, 5.0), top="xor")
    assert result.time is not None
    assert all(point.frequency is None for point in result.time.points)
    assert "The top-event frequency is not given for this tree: it is not coherent." in result.notes


def test_many_constant_events_are_counted_and_the_first_named() -> None:
    events: dict[str, float | Expression] = {f"e{i}": 0.01 for i in range(8)}
    notes = follow({"a": call("exponential", 1e-3, TIME), **events}, TimeGrid(0.0, 10.0, 5.0)).notes
    (note,) = [note for note in notes if "does not change with time" in note]
    assert note.startswith("8 of 9 events")
    assert note.endswith(" and 3 more.")


def test_common_cause_events_are_tested_with_their_members() -> None:
    tested = call("periodic-test", 1e-3, 70.0, 70.0, TIME)
    whole = follow({"a": tested}, TimeGrid(0.0, 700.0, 350.0)).time
    shared = follow({"a": call("mul", 0.25, tested)}, TimeGrid(0.0, 700.0, 350.0)).time
    assert whole is not None
    assert shared is not None
    assert shared.average_probability == pytest.approx(0.25 * whole.average_probability, rel=1e-12)
    assert whole.average_probability == pytest.approx(1.0 + np.expm1(-0.07) / 0.07, rel=1e-12)


def test_the_top_of_one_event_and_its_gate_agree() -> None:
    grid = TimeGrid(0.0, 50.0, 10.0)
    model = make_model({"TOP": either("a", "a")}, {"a": call("GLM", 0.01, 1e-3, 0.2, TIME)})
    course = quantify(model, Request(mission_time=50.0, time_grid=grid)).time
    assert course is not None
    assert course.points[0].probability == 0.01
    assert course.points[0].frequency == pytest.approx(0.99e-3)
