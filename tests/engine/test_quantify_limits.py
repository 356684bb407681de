"""Depth, width, counts past 2^53, ties, cancellation and progress of the whole job."""

from __future__ import annotations

import json
import math

import pytest

from faulttree.engine.budget import Budget
from faulttree.engine.errors import BadModel, Cancelled
from faulttree.engine.model import Call, Formula, Number
from faulttree.engine.quantify import quantify
from faulttree.engine.report import CAUTION, to_json
from faulttree.engine.request import Request, TimeGrid
from tests.engine.models import both, combine, either, make_model


def test_a_chain_of_three_thousand_gates() -> None:
    depth = 3_000
    gates: dict[str, Formula] = {}
    below, expected = "e0", 0.5
    for i in range(1, depth + 1):
        gates[f"g{i}"] = either(below, f"e{i}") if i % 2 else both(below, f"e{i}")
        expected = 1 - (1 - expected) * 0.5 if i % 2 else expected * 0.5
        below = f"g{i}"
    model = make_model(gates, {f"e{i}": 0.5 for i in range(depth + 1)})
    result = quantify(model, Request(list_count=1))
    assert result.probability == pytest.approx(expected, rel=1e-12)
    assert result.cut_sets is not None
    assert result.cut_sets.count == depth // 2 + 1


def test_shared_events_through_two_thousand_gates() -> None:
    gates: dict[str, Formula] = {}
    below = "e0"
    for i in range(2_000):
        kind = both if i % 2 else either
        gates[f"g{i}"] = kind(below, f"e{i % 20}", f"e{(i * 7 + 3) % 20}")
        below = f"g{i}"
    assert quantify(make_model(gates, {f"e{i}": 1e-3 for i in range(20)})).method == "exact"


def test_k_of_n_is_not_expanded_and_its_count_is_a_whole_number_of_any_size() -> None:
    n, k = 200, 60
    model = make_model(
        {"top": combine("atleast", *(f"e{i}" for i in range(n)), low=k)}, {f"e{i}": 0.3 for i in range(n)}
    )
    result = quantify(model, Request(list_count=20))
    expected = sum(math.comb(n, j) * 0.3**j * 0.7 ** (n - j) for j in range(k, n + 1))
    assert result.probability == pytest.approx(expected, rel=1e-10)
    assert result.cut_sets is not None
    assert result.cut_sets.count == math.comb(n, k) > 2**53
    assert json.loads(json.dumps(to_json(result)))["cut_sets"]["count"] == math.comb(n, k)
    assert len({cut.events for cut in result.cut_sets.listed}) == 20


def test_cut_offs_shorten_the_list_and_never_the_count() -> None:
    model = make_model(
        {"top": either("a", both("b", "c"), both("d", "e", "f"))},
        {"a": 1e-3, "b": 0.1, "c": 0.2, "d": 0.5, "e": 0.5, "f": 0.5},
    )
    full = quantify(model, Request()).cut_sets
    assert full is not None
    assert [cut.events for cut in full.listed] == [("d", "e", "f"), ("b", "c"), ("a",)]
    short = quantify(model, Request(max_order=2)).cut_sets
    likely = quantify(model, Request(min_probability=0.01)).cut_sets
    assert short is not None
    assert likely is not None
    assert [cut.events for cut in short.listed] == [("b", "c"), ("a",)]
    assert [cut.events for cut in likely.listed] == [("d", "e", "f"), ("b", "c")]
    assert short.count == likely.count == 3
    assert short.by_order == {1: 1, 2: 1, 3: 1}


def test_constant_top_events() -> None:
    certain = quantify(make_model({"top": either("a", "h")}, {"a": 0.1}, {"h": True}))
    never = quantify(make_model({"top": both("a", "h")}, {"a": 0.1}, {"h": False}))
    assert (certain.probability, never.probability) == (1.0, 0.0)
    assert certain.cut_sets is not None
    assert certain.cut_sets.listed[0].events == ()
    assert never.cut_sets is not None
    assert never.cut_sets.count == 0


def test_progress_is_told_in_words_and_a_run_can_be_cancelled() -> None:
    model = make_model({"top": both("a", "b")}, {"a": 0.1, "b": 0.1})
    told: list[tuple[str, float]] = []
    quantify(model, progress=lambda step, share: told.append((step, share)))
    assert {"Building decision diagrams", "Finding minimal cut sets"} <= {step for step, _ in told}
    assert all(0.0 <= share <= 1.0 for _, share in told)
    with pytest.raises(Cancelled):
        quantify(model, cancelled=lambda: True)


@pytest.mark.parametrize(
    ("request_", "word"),
    [
        (Request(top="nowhere"), "nowhere"),
        (Request(mission_time=-1.0), "mission time"),
        (Request(evidence={"nowhere": True}), "nowhere"),
        (Request(samples=1), "samples"),
        (Request(time_grid=TimeGrid(0.0, 0.0, 1.0)), "time grid"),
        (Request(time_grid=TimeGrid(0.0, 1e9, 1e-3)), "points"),
        (Request(min_probability=2.0), "probability"),
    ],
)
def test_a_request_that_cannot_be_used_is_refused(request_: Request, word: str) -> None:
    with pytest.raises(BadModel, match=word):
        quantify(make_model({"top": both("a", "b")}, {"a": 0.1, "b": 0.1}), request_)


def test_a_bracket_is_labelled_everywhere_and_carries_the_caution() -> None:
    gates = {"top": either(*(both(f"a{i}", f"b{i}") for i in range(12)), both(*(f"a{i}" for i in range(12))))}
    events = {f"{x}{i}": 0.1 for x in "ab" for i in range(12)}
    data = to_json(quantify(make_model(gates, events), budget=Budget(nodes=4, seconds=20)))
    assert data["method"] == "bracket"
    assert "probability" not in data
    assert 0.0 < data["lower"] <= data["upper"] < 1.0
    assert data["cut_sets"]["exact"] is False
    assert data["notes"][0].startswith("This is a bracket, not an exact probability.")
    assert data["caution"] == CAUTION


def test_a_part_past_its_time_is_left_out_and_the_exact_rest_stays() -> None:
    uncertain = Call("lognormal-deviate", (Number(1e-3), Number(3.0), Number(0.95)))
    model = make_model({"top": both("a", "b")}, {"a": uncertain, "b": 0.1})
    result = quantify(model, Request(samples=10_000_000), budget=Budget(seconds=0.7))
    assert result.method == "exact"
    assert result.probability == pytest.approx(1e-4)
    assert result.uncertainty is None
    assert any(note.startswith("Uncertainty is left out.") for note in result.notes)


def test_a_bracket_keeps_to_the_cut_offs_of_its_list() -> None:
    gates = {"top": either(*(both(f"a{i}", f"b{i}") for i in range(12)), both(*(f"a{i}" for i in range(12))))}
    events = {f"{x}{i}": 0.1 + 0.01 * i for x in "ab" for i in range(12)}
    budget = Budget(nodes=4, seconds=20)
    asked = Request(max_order=2, min_probability=0.03, prime_implicants=5)
    result = quantify(make_model(gates, events), asked, budget=budget)
    assert result.method == "bracket"
    assert result.cut_sets is not None
    listed = result.cut_sets.listed
    assert [cut.events for cut in listed] == [(f"a{i}", f"b{i}") for i in range(11, 7, -1)]
    assert result.cut_sets.count > len(listed)
    assert any("kept cut sets are listed" in note for note in result.notes)
    assert any("prime implicants" in note and "left out" in note for note in result.notes)


def test_a_bracket_of_a_tree_with_negations_says_how_coherence_was_judged() -> None:
    gates = {"top": either(*(both(f"a{i}", f"-b{i}") for i in range(12)), both(*(f"a{i}" for i in range(12))))}
    events = {f"{x}{i}": 0.1 for x in "ab" for i in range(12)}
    result = quantify(make_model(gates, events), budget=Budget(nodes=4, seconds=20))
    assert result.method == "bracket"
    assert not result.coherent
    assert any("negations in its drawing" in note for note in result.notes)
