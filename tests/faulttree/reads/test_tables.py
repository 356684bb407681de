"""Tables: filtered and sorted on the server."""

from __future__ import annotations

import math

import pytest

from faulttree.models import Run
from faulttree.reads.answers import read_answer
from faulttree.reads.tables import MEASURES, list_cut_sets, list_importance, read_sort
from tests.faulttree.drawing.sample import event, graph

RESULT = {
    "method": "exact",
    "coherent": True,
    "probability": 0.5,
    "rare_event": 1.5,
    "min_cut_upper_bound": 0.52,
    "cut_sets": {
        "count": 4,
        "exact": True,
        "by_order": {"1": 1, "2": 3},
        "listed": [
            {"events": ["b"], "order": 1, "probability": 0.4},
            {"events": ["a", "c"], "order": 2, "probability": 0.2},
            {"events": ["a", "d"], "order": 2, "probability": 0.1},
        ],
    },
    "importance": {
        name: {measure.key: value for measure in MEASURES} for name, value in (("a", 0.3), ("b", None), ("c", 0.9))
    },
}
GRAPH = graph(event("a", "Valve stuck"), event("b"), event("c", "Pump"), event("d"))


@pytest.fixture
def answer():
    return read_answer(Run(result=RESULT))


def numbers(answer, **params):
    return [row.number for row in list_cut_sets(answer, GRAPH, params)]


def test_cut_sets_come_likeliest_first_with_their_share(answer):
    rows = list_cut_sets(answer, GRAPH, {})
    assert [row.number for row in rows] == [1, 2, 3]
    assert [row.share for row in rows] == [0.8, 0.4, 0.2]


def test_cut_sets_are_sorted_as_asked(answer):
    assert numbers(answer, cuts="probability") == [3, 2, 1]
    assert numbers(answer, cuts="-order")[-1] == 1
    assert numbers(answer, cuts="events") == [2, 3, 1]
    assert numbers(answer, cuts="nonsense") == [1, 2, 3]


@pytest.mark.parametrize(
    ("params", "left"),
    [({"with": "valve"}, [2, 3]), ({"with": "valve pump"}, [2]), ({"order": "1"}, [1]), ({"with": "zzz"}, [])],
)
def test_cut_sets_are_filtered_by_name_label_and_order(answer, params, left):
    assert numbers(answer, **params) == left


def test_importance_is_sorted_and_filtered(answer):
    assert [row.event.name for row in list_importance(answer, GRAPH, {})] == ["c", "a", "b"]
    assert [row.event.name for row in list_importance(answer, GRAPH, {"by": "name"})] == ["a", "b", "c"]
    assert [row.event.name for row in list_importance(answer, GRAPH, {"event": "valve"})] == ["a"]


def test_a_ratio_that_json_could_not_hold_is_infinite_and_a_missing_measure_stays_missing(answer):
    row = next(row for row in list_importance(answer, GRAPH, {}) if row.event.name == "b")
    by_key = {measure.key: value for measure, value in zip(MEASURES, row.values, strict=True)}
    assert by_key["risk_reduction_worth"] == math.inf
    assert by_key["fussell_vesely_union"] is None


def test_the_head_tells_what_was_asked():
    assert read_sort("-order", ("order",), "-order") == ("order", True)
    assert read_sort("__class__", ("order",), "-order") == ("order", True)


def test_figures_beside_the_exact_one_are_flagged(answer):
    rare, bound = answer.beside
    assert rare.flag == "above 1: not a probability"
    assert bound.flag == "conservative: 4 % above exact"
    assert not answer.all_are_listed
    assert [(row.order, row.count) for row in answer.by_order] == [(1, 1), (2, 3)]


def test_a_bracket_has_no_probability():
    bracket = {**RESULT, "method": "bracket", "lower": 0.25, "upper": 0.5, "rare_event": None}
    del bracket["probability"]
    answer = read_answer(Run(result=bracket))
    assert (answer.is_exact, answer.probability, answer.gap) == (False, None, 0.5)
    assert answer.beside[0].flag == "not available"
    assert list_cut_sets(answer, GRAPH, {})[0].share is None


def test_a_run_without_an_answer_has_none():
    assert read_answer(None) is read_answer(Run()) is None
