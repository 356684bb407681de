"""Steps of a tint: where they lie, what the legend says."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from faulttree.drawing.graph import FaultGraph, Node
from faulttree.reads.shading import PROBABILITY, list_choices, read_shading

KEYS = (
    *("birnbaum", "criticality", "fussell_vesely_union", "fussell_vesely_rare_event"),
    *("risk_achievement_worth", "risk_reduction_worth", "diagnostic"),
)


def answer(**values):
    """An answer whose events have one value for every measure."""
    importance = {event: dict.fromkeys(KEYS, value) for event, value in values.items()}
    return SimpleNamespace(data={"importance": importance}, probability=0.5)


def steps(key="birnbaum", **values):
    """The step of each event."""
    shading = read_shading(answer(**values), FaultGraph({}, ()), key)
    assert shading
    return {event: shade.step for event, shade in shading.shades.items()}, shading


def test_decades_get_steps_of_equal_factors():
    found, shading = steps(a=1e-6, b=1e-5, c=1e-4, d=1e-3, e=1e-1)
    assert found == {"a": 1, "b": 1, "c": 2, "d": 3, "e": 5}
    assert shading.by_factor
    assert [step.count for step in shading.steps] == [2, 1, 1, 0, 1]
    assert shading.steps[0].words == "1.0×10⁻⁶ to 1.0×10⁻⁵"


def test_a_narrow_span_gets_even_steps():
    found, shading = steps(a=1.0, b=1.5, c=2.0)
    assert (found, shading.by_factor) == ({"a": 1, "b": 3, "c": 5}, False)


def test_every_value_lies_within_the_range_of_its_step():
    values = {f"e{n}": math.exp(-0.37 * n) for n in range(40)}
    found, shading = steps(**values)
    assert set(found.values()) == {1, 2, 3, 4, 5}
    ordered = sorted(values, key=values.__getitem__)
    assert [found[event] for event in ordered] == sorted(found.values())
    assert sum(step.count for step in shading.steps) == 40


def test_nothing_and_less_are_in_the_first_step_and_said():
    found, shading = steps(a=0.0, b=-0.1, c=1e-4, d=1e-1)
    assert (found["a"], found["b"], found["d"]) == (1, 1, 5)
    assert shading.steps[0].words.startswith("up to")


def test_equal_values_have_one_step():
    found, shading = steps(a=0.25, b=0.25)
    assert found == {"a": 3, "b": 3}
    assert [step.words for step in shading.steps] == ["0.250"]


def test_an_infinite_ratio_is_in_the_last_step():
    found, shading = steps("risk_reduction_worth", a=1.0, b=1.2, c=None)
    assert found["c"] == 5
    assert shading.steps[-1].words.endswith("to ∞")


def test_what_does_not_apply_stays_plain_and_is_counted():
    found, shading = steps("fussell_vesely_union", a=0.2, b=None)
    assert (list(found), shading.without) == (["a"], 1)


def test_probability_is_taken_from_the_tree():
    graph = FaultGraph({"a": Node("a", "basic", probability=0.2), "b": Node("b", "basic"), "g": Node("g", "or")}, ())
    shading = read_shading(answer(), graph, PROBABILITY)
    assert shading
    assert (list(shading.shades), shading.without) == (["a"], 1)


@pytest.mark.parametrize("key", ["", "magic"])
def test_what_is_no_measure_tints_nothing(key):
    assert read_shading(answer(a=1.0), FaultGraph({}, ()), key) is None


def test_without_an_answer_there_is_no_choice():
    assert list_choices(None) == []
    assert read_shading(None, FaultGraph({}, ()), "birnbaum") is None
    assert [key for key, _ in list_choices(SimpleNamespace(data={"importance": {}}))] == [PROBABILITY]
