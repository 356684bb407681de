"""Edits of a model: each does what it says, refuses what can't be, and never leaves a reference to nothing."""

from __future__ import annotations

import random

import pytest

from faulttree.engine.editing.complete import find_faults, find_lacks
from faulttree.engine.editing.edits import EDITS, apply_edit
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.inputs import flatten, inputs_of, is_flat, users_of
from faulttree.engine.exchange.plain_json import read_json, write_json
from faulttree.engine.model import Combination, Connective, Model, Number, Reference, Truth
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.engine.editing import pressure_tank
from tests.engine.models import make_model


def build(*edits, model=None):
    model = model or Model()
    for edit in edits:
        model = apply_edit(model, edit).model
    return model


@pytest.fixture
def tank():
    return build(*pressure_tank.EDITS)


def inputs(model, name):
    return [("not " if item.negated else "") + item.name for item in inputs_of(model.gates[name])]


def test_the_pressure_tank_is_built_step_by_step(tank):
    answer = quantify(tank)
    assert answer.probability == pytest.approx(pressure_tank.PROBABILITY, rel=1e-9)
    assert {cut.events for cut in answer.cut_sets.listed} == pressure_tank.CUT_SETS
    assert find_lacks(tank) == ()


def test_a_new_event_leaves_its_gate_chosen_so_that_the_next_can_follow(tank):
    done = apply_edit(tank, {"do": "add-event", "under": "E5", "name": "X"})
    assert (done.chosen, done.under) == ("E5", "E4")
    assert done.words == "Basic event X is added under E5."


def test_names_are_numbered_where_none_is_given(tank):
    assert "G1" in apply_edit(tank, {"do": "add-gate", "under": "E5"}).model.gates
    assert "E6" in apply_edit(tank, {"do": "add-event", "under": "E5"}).model.basic_events


def test_a_branch_moves_with_all_below_it(tank):
    moved = build({"do": "move", "name": "E4", "source": "E3", "under": "E1", "at": 0}, model=tank)
    assert inputs(moved, "E1") == ["E4", "T", "E2"]
    assert inputs(moved, "E3") == ["S"]
    assert inputs(moved, "E4") == ["S1", "E5"]


def test_a_gate_cannot_stand_under_itself(tank):
    with pytest.raises(EditRefused, match="E2 can't stand under E5, which is below it"):
        apply_edit(tank, {"do": "move", "name": "E2", "source": "E1", "under": "E5"})
    with pytest.raises(EditRefused, match="can't stand under itself"):
        apply_edit(tank, {"do": "use", "name": "E2", "under": "E2"})


def test_a_copy_shares_its_events_or_has_new_ones(tank):
    same = build({"do": "copy", "name": "E4", "under": "E1", "events": "same"}, model=tank)
    assert inputs(same, "E4-2") == ["S1", "E5-2"]
    assert len(same.basic_events) == len(tank.basic_events)
    new = build({"do": "copy", "name": "E4", "under": "E1", "events": "new"}, model=tank)
    assert inputs(new, "E5-2") == ["K1-2", "R-2"]
    assert new.basic_events["R-2"].expression == tank.basic_events["R"].expression


def test_removing_takes_what_nothing_else_uses(tank):
    used = build({"do": "use", "name": "R", "under": "E1"}, model=tank)
    left = build({"do": "remove", "name": "E2", "under": "E1"}, model=used)
    assert set(left.gates) == {"E1"}
    assert set(left.basic_events) == {"T", "R"}


def test_the_only_top_event_stays(tank):
    with pytest.raises(EditRefused, match="only top event"):
        apply_edit(tank, {"do": "remove", "name": "E1"})


def test_wrapping_and_negating_keep_the_place_among_the_inputs(tank):
    wrapped = build({"do": "wrap", "name": "S", "under": "E3", "kind": "and"}, model=tank)
    assert inputs(wrapped, "E3") == ["G1", "E4"]
    assert inputs(wrapped, "G1") == ["S"]
    negated = build({"do": "negate", "name": "S", "under": "E3"}, model=tank)
    assert inputs(negated, "E3") == ["not S", "E4"]
    assert build({"do": "negate", "name": "S", "under": "E3"}, model=negated) == tank


def test_a_gate_over_the_top_event_becomes_the_top_event(tank):
    assert users_of(build({"do": "wrap", "name": "E1", "kind": "or"}, model=tank), "E1") == ("G1",)


def test_renaming_reaches_gates_groups_and_expressions(tank):
    edits = (
        {"do": "parameter", "name": "rate", "expression": 1e-5, "unit": "hours-1"},
        {"do": "value", "name": "K1", "expression": {"exponential": ["rate", {"mission-time": []}]}},
        {"do": "group", "name": "relays", "kind": "beta-factor", "members": ["K1", "R"], "distribution": "rate",
         "factors": {"2": 0.1}},
        {"do": "name", "name": "K1", "new": "RELAY", "label": "Relay K1"},
        {"do": "parameter", "name": "rate", "new": "relay-rate", "expression": 2e-5},
    )  # fmt: skip
    model = build(*edits, model=tank)
    assert inputs(model, "E5") == ["RELAY", "R"]
    assert model.common_cause_groups["relays"].members == ("RELAY", "R")
    assert model.basic_events["RELAY"].expression.arguments[0].name == "relay-rate"
    assert model.common_cause_groups["relays"].distribution.name == "relay-rate"
    assert find_lacks(model) == ()


def test_an_event_is_developed_into_a_gate_and_an_empty_gate_becomes_an_event(tank):
    gated = build({"do": "retype", "name": "T", "kind": "atleast", "low": 2}, model=tank)
    assert find_lacks(gated)[0].message == "T has no input yet."
    back = build({"do": "retype", "name": "T", "kind": "basic"}, model=gated)
    assert find_lacks(back)[0].message == "T has no probability yet."


@pytest.mark.parametrize(
    ("edit", "field", "words"),
    [
        ({"do": "nothing"}, "do", "This is no edit"),
        ({"do": "add-event", "under": "E9"}, "under", "There is no gate E9"),
        ({"do": "add-event", "under": "T"}, "under", "T is no gate"),
        ({"do": "add-event", "under": "E1", "name": "T"}, "name", "The name T is taken"),
        ({"do": "add-event", "under": "E1", "name": "two words"}, "name", "can't be a name"),
        ({"do": "retype", "name": "E1", "kind": "atleast"}, "low", "How many inputs"),
        ({"do": "retype", "name": "E1", "kind": "basic"}, "kind", "has inputs"),
        ({"do": "retype", "name": "E1", "kind": "atleast", "low": "x"}, "low", "no whole number"),
        ({"do": "value", "name": "T", "expression": "nowhere"}, "expression-0", "There is no parameter nowhere"),
        ({"do": "value", "name": "T", "expression": {"sqrt": []}}, "expression", ""),
        ({"do": "use", "name": "T", "under": "E1"}, "name", "as an input already"),
        ({"do": "group", "name": "g", "kind": "MGL", "members": ["T", "R"], "distribution": 0.1, "factors": {}},
         "factors", "Factor 2 is missing"),
        ({"do": "name", "name": "T"}, "do", "missing"),
        ({"do": "name", "name": "T", "new": "X", "colour": "red"}, "do", "colour"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_field(tank, edit, field, words):
    with pytest.raises(EditRefused) as refused:
        apply_edit(tank, edit)
    assert refused.value.field == field
    assert words in str(refused.value)


def test_a_parameter_is_never_made_of_itself(tank):
    model = build(
        {"do": "parameter", "name": "a", "expression": 1.0}, {"do": "parameter", "name": "b", "expression": "a"},
        model=tank,
    )  # fmt: skip
    with pytest.raises(EditRefused, match="made of itself"):
        apply_edit(model, {"do": "parameter", "name": "a", "expression": {"add": ["b", 1]}})
    with pytest.raises(EditRefused, match="is used by b"):
        apply_edit(model, {"do": "remove-parameter", "name": "a"})


def test_a_probability_above_one_is_a_fault_and_a_missing_one_only_a_lack(tank):
    assert find_faults(build({"do": "value", "name": "T", "expression": 2.0}, model=tank))
    nothing = build({"do": "value", "name": "T", "expression": None}, model=tank)
    assert find_lacks(nothing)[0].message == "T has no probability yet."


def random_edit(model, chance):
    gates, events = list(model.gates), [*model.basic_events, *model.house_events]
    any_gate, anything = chance.choice(gates), chance.choice([*gates, *events])
    above = chance.choice(users_of(model, anything) or ("",))
    return chance.choice(
        [
            {"do": "add-gate", "under": any_gate, "kind": chance.choice(["and", "or", "xor", "nor"])},
            {"do": "add-event", "under": any_gate, "expression": chance.random()},
            {"do": "add-house", "under": any_gate, "value": chance.random() < 0.5},
            {"do": "use", "name": anything, "under": any_gate},
            {"do": "move", "name": anything, "source": above, "under": any_gate},
            {"do": "copy", "name": anything, "under": any_gate, "events": chance.choice(["same", "new"])},
            {"do": "wrap", "name": anything, "under": above, "kind": "and"},
            {"do": "negate", "name": anything, "under": above},
            {"do": "shift", "name": anything, "under": above, "by": chance.choice([-1, 1])},
            {"do": "remove", "name": anything, "under": above},
            {"do": "retype", "name": any_gate, "kind": "atleast", "low": 1},
            {"do": "name", "name": anything, "new": f"N{chance.randrange(10**6)}"},
        ]
    )


@pytest.mark.parametrize("seed", range(40))
def test_whatever_is_done_the_model_stays_whole(seed):
    chance, model, made = random.Random(seed), build(*pressure_tank.EDITS), 0
    for _ in range(60):
        try:
            done = apply_edit(model, random_edit(model, chance))
        except EditRefused:
            continue
        model, made = done.model, made + 1
        assert is_flat(model)
        known = {*model.gates, *model.basic_events, *model.house_events}
        used = {item.name for gate_ in model.gates.values() for item in inputs_of(gate_)}
        assert used <= known
        assert known - used <= set(model.gates), "an event that nothing uses is left behind"
        assert not done.chosen or done.chosen in known
        assert not any("circle" in fault.message for fault in find_faults(model))
        assert read_json(write_json(model), finished=False) == model
    assert made > 20


def test_every_edit_is_tried_here():
    tried = {"title", "share", "unshare", "transfer", "switch", "remove-group", "remove-parameter", "group"}
    tried |= {"parameter", "value"} | {
        random_edit(build(*pressure_tank.EDITS), random.Random(n))["do"] for n in range(400)
    }
    assert tried == set(EDITS)


def test_flattening_keeps_the_truth_of_every_gate():
    ref = Reference
    inner = Combination(Connective.AND, (ref("a"), Combination(Connective.NOT, (ref("b"),)), Truth(True)))
    formula = Combination(Connective.OR, (inner, Combination(Connective.NOT, (inner,)), ref("c")))
    model = make_model({"top": formula, "pass": ref("top")}, {"a": 0.3, "b": 0.2, "c": 0.1})
    flat = flatten(model)
    assert is_flat(flat)
    for name in ("top", "pass"):
        assert quantify(flat, Request(top=name)).probability == pytest.approx(
            quantify(model, Request(top=name)).probability, rel=1e-12
        )


def test_a_transfer_takes_with_it_what_only_it_used(tank):
    used = build({"do": "use", "name": "R", "under": "E1"}, model=tank)
    model = build({"do": "transfer", "name": "E3", "tree": 7, "revision": 2, "top": "E3"}, model=used)
    assert set(model.gates) == {"E1", "E2", "E3"}
    assert set(model.basic_events) == {"T", "K2", "R"}
    assert inputs(model, "E3") == []


def test_nothing_is_put_under_a_transfer_and_it_keeps_its_type(tank):
    model = build({"do": "transfer", "name": "E3", "tree": 7, "revision": 2, "top": "E3"}, model=tank)
    for edit in (
        {"do": "add-event", "under": "E3", "name": "X"},
        {"do": "use", "name": "T", "under": "E3"},
        {"do": "move", "name": "T", "source": "E1", "under": "E3"},
        {"do": "copy", "name": "T", "under": "E3", "events": "new"},
        {"do": "retype", "name": "E3", "kind": "or"},
    ):
        with pytest.raises(EditRefused, match="E3 is a transfer to another tree"):
            apply_edit(model, edit)


def test_marks_titles_and_switches(tank):
    model = build(
        {"do": "share", "name": "T", "item": "tank-rupture"},
        {"do": "add-house", "under": "E1", "name": "test"},
        {"do": "switch", "name": "test", "value": True},
        model=tank,
    )
    assert model.basic_events["T"].placing.attributes == (("library", "tank-rupture", ""),)
    assert model.house_events["test"].value is True
    assert build({"do": "unshare", "name": "T"}, model=model).basic_events["T"] == tank.basic_events["T"]
    assert build({"do": "title", "label": "A  tank"}, model=tank).label == "A tank"
    assert model.basic_events["S"].expression == Number(1e-4)
