"""The graph behind a drawing."""

from __future__ import annotations

import itertools

import pytest

from faulttree.drawing.graph import holds
from tests.faulttree.drawing.sample import SHARED, chain, gate, graph

TRUTH = {
    "and": lambda *v: all(v),
    "or": lambda *v: any(v),
    "nand": lambda *v: not all(v),
    "nor": lambda *v: not any(v),
    "xor": lambda *v: sum(v) % 2 == 1,
    "iff": lambda a, b: a == b,
    "imply": lambda a, b: not a or b,
}


@pytest.mark.parametrize("kind", TRUTH)
def test_gates_follow_their_truth_tables(kind):
    widths = (2,) if kind in ("iff", "imply") else (2, 3)
    for width in widths:
        for values in itertools.product((False, True), repeat=width):
            assert holds(gate("g", kind, *"abc"[:width]), values) == TRUTH[kind](*values), values


def test_gates_that_count():
    two_of = gate("g", "atleast", *"abcd", low=2)
    some_of = gate("g", "cardinality", *"abcd", low=1, high=2)
    for values in itertools.product((False, True), repeat=4):
        assert holds(two_of, values) == (sum(values) >= 2)
        assert holds(some_of, values) == (1 <= sum(values) <= 2)
    assert holds(gate("g", "not", "a"), [False])


def test_what_occurs_with_some_events():
    assert SHARED.occur_when(["c", "d"]) == {"c", "d", "shared", "left", "right", "top"}
    assert SHARED.occur_when(["a", "c"]) == {"a", "c", "left"}


def test_negated_inputs_occur_when_the_event_does_not():
    negated = graph(gate("top", "and", "a", "!b"))
    assert "top" in negated.occur_when(["a"])
    assert "top" not in negated.occur_when(["a", "b"])


def test_counts_are_of_different_elements():
    assert SHARED.count_below("top") == (3, 5)
    assert SHARED.count_below("left") == (1, 4)


def test_paths_and_search():
    assert SHARED.path_to("c", "top") == ("top", "left", "shared", "c")
    assert SHARED.path_to("a", "right") == ()
    found, count = SHARED.find("GATE")
    assert count == 4
    assert SHARED.find("c")[0][0].name == "c"
    assert len(found) == 4


def test_deep_trees_need_no_recursion():
    deep = chain(5000)
    assert "g0" in deep.occur_when(["x"])
    assert deep.count_below("g0") == (5000, 5002)
    assert len(deep.path_to("x", "g0")) == 5002
