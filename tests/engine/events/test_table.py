"""Tables of event values: probabilities, over time, samples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from faulttree.engine.errors import BadModel
from faulttree.engine.events.sampling import METHODS, Sampling
from faulttree.engine.events.table import EventTable
from faulttree.engine.model import BasicEvent, Expression, Model
from tests.engine.events.builders import TIME, call, make_events


def make_table(
    events: dict[str, float | str | Expression], parameters: dict[str, float | str | Expression] | None = None
) -> EventTable:
    """Table of all events of a model."""
    return EventTable(make_events(events, parameters), tuple(events))


def test_probabilities_stand_in_the_order_of_the_names() -> None:
    model = make_events({"a": 0.1, "b": 0.2, "c": 0.3})
    assert EventTable(model, ("c", "a")).probabilities(None).tolist() == [0.3, 0.1]


def test_events_without_a_probability_are_all_named() -> None:
    model = Model(basic_events={name: BasicEvent(name) for name in ("a", "b")})
    with pytest.raises(BadModel) as refusal:
        EventTable(model, ("a", "b"))
    assert [problem.element for problem in refusal.value.problems] == ["basic event a", "basic event b"]


@pytest.mark.parametrize("value", [1.0 + 1e-9, -1e-9, 2.0])
def test_a_probability_outside_its_range_is_refused_by_name(value: float) -> None:
    with pytest.raises(BadModel, match=r"basic event b: Its probability comes out as .*, outside \[0, 1\]"):
        make_table({"a": 0.5, "b": call("mul", value, 1.0)}).probabilities(None)


@pytest.mark.parametrize(("value", "expected"), [(1.0 + 1e-13, 1.0), (-1e-13, 0.0)])
def test_rounding_just_outside_is_cut_to_the_bound(value: float, expected: float) -> None:
    assert make_table({"a": call("mul", value, 1.0)}).probabilities(None).tolist() == [expected]


def test_a_probability_that_leaves_its_range_at_one_time_is_refused() -> None:
    with pytest.raises(BadModel, match=r"comes out as 1\.5"):
        make_table({"a": call("mul", 0.05, TIME)}).over_time(np.array([1.0, 30.0]))


def test_events_are_sorted_by_what_is_known_of_their_course() -> None:
    table = make_table(
        {
            "constant": 0.1,
            "finished": call("exponential", 0.1, 24.0),
            "aging": "lifetime",
            "odd": call("pow", TIME, 0.5),
            "stepped": call("ite", call("gt", TIME, 5.0), 0.1, 0.2),
            "slower": call("periodic-test", 0.1, 3.0, 3.0, call("mul", 0.5, TIME)),
        },
        {"lifetime": call("Weibull", 10.0, 2.0, 0.0, "mission"), "mission": TIME},
    )
    assert table.uses_mission_time
    assert not table.is_uncertain
    assert table.constant_events == ("constant", "finished")
    assert table.events_without_intensity == ("odd", "stepped", "slower")
    assert table.events_with_corners == ("stepped", "slower")
    assert 3.0 not in table.break_times(0.0, 5.0)  # the slower test is at 6 h, which is not worked out


def test_a_failure_law_at_another_time_than_the_mission_has_no_intensity() -> None:
    table = make_table({"half": call("exponential", 0.1, call("mul", 0.5, TIME))})
    assert table.events_without_intensity == ("half",)
    assert np.isnan(table.over_time(np.array([1.0])).failure_intensity).all()


def test_constant_factors_scale_a_failure_law() -> None:
    table = make_table({"a": call("mul", 0.2, "law", "half")}, {"law": call("exponential", 0.1, TIME), "half": 0.5})
    values = table.over_time(np.array([0.0, 7.0]))
    assert values.probability[:, 0] == pytest.approx([0.0, 0.1 * (1.0 - math.exp(-0.7))])
    assert values.failure_intensity[:, 0] == pytest.approx([0.01, 0.01 * math.exp(-0.7)])


def test_integrals_are_cut_at_every_test_also_inside_factors() -> None:
    law = call("periodic-test", 1e-3, 10.0, 4.0, TIME)
    table = make_table(
        {"a": call("mul", 0.5, "law"), "b": call("periodic-test", 1e-3, 0.1, 25.0, 3.0, TIME)}, {"law": law}
    )
    assert table.break_times(0.0, 30.0).tolist() == [3.0, 4.0, 14.0, 24.0, 28.0]
    assert table.break_times(14.0, 25.0).tolist() == [24.0]


def test_integrals_close_in_on_the_start_of_a_weibull_law() -> None:
    breaks = make_table({"a": call("Weibull", 10.0, 0.5, 3.0, TIME)}).break_times(0.0, 11.0)
    assert breaks[0] == 3.0
    assert {4.0, 5.0, 7.0} <= set(breaks.tolist())
    assert breaks[1] - 3.0 < 1e-12


def test_more_tests_than_can_be_followed_are_refused() -> None:
    table = make_table({"a": call("periodic-test", 1e-3, 1e-3, 0.0, TIME)})
    with pytest.raises(BadModel, match="basic event a: It is tested 100,001 times"):
        table.break_times(0.0, 100.0)


@pytest.mark.parametrize("method", METHODS)
def test_blocks_of_samples_are_rows_of_the_whole(method: str) -> None:
    table = make_table(
        {"a": "p", "b": call("mul", "p", call("beta-deviate", 2.0, 8.0)), "c": 0.25},
        {"p": call("uniform-deviate", 0.1, 0.2)},
    )
    whole = table.sample(None, Sampling(1000, 7, method, 0, 1000)).probability
    parts = [table.sample(None, Sampling(1000, 7, method, a, b)).probability for a, b in ((0, 300), (300, 1000))]
    assert np.array_equal(np.concatenate(parts), whole)
    assert set(whole[:, 2]) == {0.25}
    assert table.is_uncertain


def test_the_draws_of_an_event_do_not_depend_on_the_other_events() -> None:
    model = make_events({"a": call("uniform-deviate", 0.0, 1.0), "b": call("uniform-deviate", 0.0, 1.0)})
    sampling = Sampling(50, 1, "monte-carlo", 0, 50)
    both = EventTable(model, ("a", "b")).sample(None, sampling).probability
    assert np.array_equal(EventTable(model, ("b",)).sample(None, sampling).probability[:, 0], both[:, 1])


def test_draws_outside_the_unit_interval_are_cut_and_counted() -> None:
    table = make_table({"a": call("uniform-deviate", 0.5, 1.5), "b": call("uniform-deviate", -0.25, 0.75)})
    samples = table.sample(None, Sampling(1000, 1, "latin-hypercube", 0, 1000))
    assert samples.clipped == 750
    assert samples.probability.min() == 0.0
    assert samples.probability.max() == 1.0
