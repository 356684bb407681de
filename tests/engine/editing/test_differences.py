"""What is different between two states of a model: all of it, in sentences that name it, and nothing else."""

from __future__ import annotations

import json
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from faulttree.engine.editing.differences import Difference, find_differences
from faulttree.engine.editing.edits import apply_edit
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.model import (
    BasicEvent,
    Call,
    CommonCauseGroup,
    Container,
    Gate,
    HouseEvent,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Placing,
    references,
)
from tests.engine.editing import pressure_tank
from tests.engine.models import both, combine, either, make_model


def build(*edits, model=None):
    model = model or Model()
    for edit in edits:
        model = apply_edit(model, edit).model
    return model


def say(before, after):
    return [difference.words for difference in find_differences(before, after)]


TANK = build(*pressure_tank.EDITS)


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (
            {"do": "add-event", "under": "E5", "name": "VALVE-STUCK", "expression": 0.001},
            ["Gate E5: input VALVE-STUCK is new.", "Basic event VALVE-STUCK is new, with probability 0.001."],
        ),
        ({"do": "value", "name": "T", "expression": 0.2}, ["Basic event T: probability from 5e-06 to 0.2."]),
        ({"do": "value", "name": "T", "expression": None}, ["Basic event T: probability from 5e-06 to none."]),
        ({"do": "retype", "name": "E1", "kind": "atleast", "low": 2}, ["Gate E1: from OR to at least 2 of 2."]),
        ({"do": "negate", "under": "E3", "name": "S"}, ["Gate E3: input S is negated now."]),
        ({"do": "name", "name": "E4", "new": "E4", "label": "Timer"}, ["Gate E4: title “Timer” is new."]),
        ({"do": "name", "name": "E1", "new": "E1", "label": ""}, ["Gate E1: title “Pressure tank ruptures” is gone."]),
        ({"do": "name", "name": "K1", "new": "K-ONE"}, ["Basic event K1 is called K-ONE now."]),
        ({"do": "name", "name": "E4", "new": "TIMER"}, ["Gate E4 is called TIMER now."]),
        ({"do": "shift", "under": "E3", "name": "S", "by": 1}, ["Gate E3: its inputs are in another order."]),
        (
            {"do": "remove", "under": "E5", "name": "R"},
            ["Gate E5: input R is gone.", "Basic event R is gone."],
        ),
        ({"do": "use", "name": "T", "under": "E5"}, ["Gate E5: input T is new."]),
        (
            {"do": "parameter", "name": "rate", "expression": 1e-5, "unit": "/h"},
            ["Parameter rate is new: 1e-05 /h."],
        ),
        ({"do": "share", "name": "T", "item": "TANK"}, ["Basic event T: it is TANK of the library now."]),
    ],
)
def test_an_edit_reads_as_a_sentence(edit, words):
    assert say(TANK, build(edit, model=TANK)) == words


def test_gates_come_from_the_top_down_and_events_after_them():
    after = build(
        {"do": "retype", "name": "E5", "kind": "and"},
        {"do": "value", "name": "R", "expression": 0.5},
        {"do": "value", "name": "T", "expression": 0.5},
        {"do": "retype", "name": "E2", "kind": "and"},
        model=TANK,
    )
    found = find_differences(TANK, after)
    assert [(each.kind, each.name) for each in found] == [
        ("gate", "E2"),
        ("gate", "E5"),
        ("basic event", "T"),
        ("basic event", "R"),
    ]


def test_what_is_gone_stands_where_it_was():
    before = make_model(
        {"TOP": either("A", "G1", "G2"), "G1": both("B", "C"), "G2": both("D", "E")}, dict.fromkeys("ABCDE", 0.1)
    )
    after = make_model({"TOP": either("A", "G2"), "G2": either("D", "E")}, dict.fromkeys("ADE", 0.1))
    assert say(before, after) == [
        "Gate TOP: input G1 is gone.",
        "Gate G2: from AND to OR.",
        "Gate G1 is gone.",
        "Basic event B is gone.",
        "Basic event C is gone.",
    ]


def test_a_rename_is_only_called_one_without_doubt():
    before = make_model({"TOP": either("A", "B")}, {"A": 0.1, "B": 0.2})
    other_value = make_model({"TOP": either("C", "B")}, {"C": 0.3, "B": 0.2})
    assert [each.what for each in find_differences(before, other_value)] == ["changed", "changed", "added", "removed"]
    other_place = make_model({"TOP": either("B", "C")}, {"C": 0.1, "B": 0.2})
    assert "renamed" not in {each.what for each in find_differences(before, other_place)}
    loose = make_model({"TOP": either("A")}, {"A": 0.1, "X": 0.5, "Y": 0.5})
    two = make_model({"TOP": either("A")}, {"A": 0.1, "V": 0.5, "W": 0.5})
    assert [each.what for each in find_differences(loose, two)] == ["added", "added", "removed", "removed"]


def test_a_name_that_another_kind_takes_over_is_no_rename():
    before = make_model({"TOP": either("A", "B"), "X": both("A", "B")}, {"A": 0.1, "B": 0.2})
    after = make_model({"TOP": either("X", "B")}, {"X": 0.1, "B": 0.2})
    assert {each.what for each in find_differences(before, after)} == {"added", "removed", "changed"}


def test_a_rename_with_another_change_says_both():
    before = make_model({"TOP": either("G", "C"), "G": both("A", "B")}, {"A": 0.1, "B": 0.2, "C": 0.3})
    after = make_model({"TOP": either("H", "C"), "H": both("A", "B")}, {"A": 0.1, "B": 0.5, "C": 0.3})
    assert say(before, after) == ["Gate G is called H now.", "Basic event B: probability from 0.2 to 0.5."]


def test_numbers_that_are_nearly_alike_are_written_out():
    before = make_model({"TOP": either("A")}, {"A": 0.1})
    after = make_model({"TOP": either("A")}, {"A": 0.10000001})
    assert say(before, after) == ["Basic event A: probability from 0.1 to 0.10000001."]


def test_parameters_groups_houses_and_the_frame_are_told():
    life = Call("exponential", (ParameterReference("rate"), MissionTime()))
    group = CommonCauseGroup("PUMPS", "beta-factor", ("A", "B"), Number(0.01), ((2, Number(0.1)),))
    before = replace(
        make_model({"TOP": both("A", "B", "H")}, {"A": life, "B": life}, {"H": False}),
        containers=(Container(("plant",), label="Plant"),),
        parameters={"rate": Parameter("rate", Number(1e-4), "/h")},
        common_cause_groups={"PUMPS": group},
    )
    after = replace(
        before,
        label="Second look",
        containers=(Container(("plant",), label="Station"), Container(("plant", "left"))),
        house_events={"H": HouseEvent("H", True)},
        parameters={"rate": Parameter("rate", Number(2e-4), "1/h")},
        common_cause_groups={"PUMPS": replace(group, factors=((2, Number(0.2)),), distribution=life)},
    )
    assert say(before, after) == [
        "House event H: switched on.",
        "Parameter rate: from 0.0001 to 0.0002.",
        "Parameter rate: unit from /h to 1/h.",
        "Common-cause group PUMPS: probability of each member from 0.01 "
        "to exponential(parameter rate, the mission time).",
        "Common-cause group PUMPS: factors from 0.1 at level 2 to 0.2 at level 2.",
        "The model: title “Second look” is new.",
        "Fault tree plant: title from “Plant” to “Station”.",
        "Component plant.left is new.",
    ]
    renamed = replace(
        before,
        basic_events={
            name: BasicEvent(name, Call("exponential", (ParameterReference("lambda"), MissionTime()))) for name in "AB"
        },
        parameters={"lambda": Parameter("lambda", Number(1e-4), "/h")},
    )
    assert say(before, renamed) == ["Parameter rate is called lambda now."]


def test_formulas_in_formulas_are_written_out():
    before = make_model({"TOP": either(both("A", "-B"), "C")}, {"A": 0.1, "B": 0.1, "C": 0.1})
    after = make_model({"TOP": combine("atleast", "A", "B", "C", low=2)}, {"A": 0.1, "B": 0.1, "C": 0.1})
    assert say(before, after) == ["Gate TOP: from OR of (AND of A, not B), C to at least 2 of 3 of A, B, C."]


def test_an_input_used_twice_is_counted():
    before = make_model({"TOP": combine("xor", "A", "A", "B")}, {"A": 0.1, "B": 0.1})
    after = make_model({"TOP": combine("xor", "A", "B")}, {"A": 0.1, "B": 0.1})
    assert say(before, after) == ["Gate TOP: input A is used one time less."]
    assert say(after, before) == ["Gate TOP: input A is used one time more."]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (Placing(), Placing(("plant",))),
        (Placing(), Placing(role="private")),
        (Placing(attributes=(("a", "1", ""),)), Placing(attributes=(("a", "2", ""),))),
        (Placing(attributes=(("a", "1", ""), ("b", "1", ""))), Placing(attributes=(("b", "1", ""), ("a", "1", "")))),
        (Placing(attributes=(("library", "A", ""),)), Placing(attributes=(("library", "A", "name"),))),
        (Placing(attributes=(("transfer", "1/1/T", ""),)), Placing(attributes=(("transfer", "1/2/T", ""),))),
    ],
)
def test_where_an_element_stands_is_told(before, after):
    models = [
        Model(gates={"G": Gate("G", both("A"), placing)}, basic_events={"A": BasicEvent("A")})
        for placing in (before, after)
    ]
    assert any("Gate G:" in words for words in say(*models))


def test_lines_and_the_order_of_a_source_are_no_difference():
    before = make_model({"TOP": either("A", "B")}, {"A": 0.1, "B": 0.2})
    after = make_model({"TOP": either("A", "B")}, {"B": 0.2, "A": 0.1})
    moved = {name: replace(event, placing=Placing(line=7)) for name, event in after.basic_events.items()}
    assert find_differences(before, replace(after, basic_events=moved)) == ()


def test_differences_survive_json():
    after = build({"do": "remove", "under": "E5", "name": "R"}, model=TANK)
    found = find_differences(TANK, after)
    plain = json.loads(json.dumps([each.to_plain() for each in found]))
    assert tuple(map(Difference.from_plain, plain)) == found
    with pytest.raises(KeyError, match="words"):
        Difference.from_plain({"kind": "gate", "name": "G", "what": "added"})


def random_edit(dice, model):
    """One edit that fits often enough; some are refused, as the model forbids them."""
    gates, events = list(model.gates), list(model.basic_events)
    name = dice.choice([*gates, *events])
    under = dice.choice(gates)
    return dice.choice(
        [
            {"do": "add-event", "under": under, "expression": dice.random()},
            {"do": "add-gate", "under": under, "kind": dice.choice(["and", "or"])},
            {"do": "add-house", "under": under},
            {"do": "use", "name": name, "under": under},
            {"do": "copy", "name": name, "under": under, "events": dice.choice(["same", "new"])},
            {
                "do": "negate",
                "under": under,
                "name": dice.choice(list(references(model.gates[under].formula)) or [name]),
            },
            {"do": "shift", "under": under, "name": name, "by": 1},
            {
                "do": "remove",
                "under": under,
                "name": dice.choice(list(references(model.gates[under].formula)) or [name]),
            },
            {"do": "retype", "name": under, "kind": dice.choice(["and", "or", "xor", "nor"])},
            {"do": "retype", "name": under, "kind": "atleast", "low": dice.choice([1, 2])},
            {"do": "name", "name": name, "new": f"N{dice.randrange(1000)}"},
            {"do": "name", "name": name, "new": name, "label": f"Title {dice.randrange(1000)}"},
            {"do": "value", "name": dice.choice(events or ["T"]), "expression": dice.random()},
            {
                "do": "parameter",
                "name": dice.choice("pqr"),
                "expression": dice.random(),
                "unit": dice.choice(["", "h"]),
            },
            {"do": "group", "name": "CC", "members": dice.sample(events, min(2, len(events))), "model": "beta-factor"},
            {"do": "title", "label": f"Title {dice.randrange(1000)}"},
        ]
    )


def elements(model):
    kinds = {
        "gate": model.gates,
        "basic event": model.basic_events,
        "house event": model.house_events,
        "parameter": model.parameters,
        "common-cause group": model.common_cause_groups,
    }
    return {(kind, name): element for kind, those in kinds.items() for name, element in those.items()}


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 6))
def test_every_change_of_random_edits_is_found_and_nothing_else(seed, count):
    dice, model = random.Random(seed), TANK
    for _ in range(count):
        try:
            model = apply_edit(model, random_edit(dice, model)).model
        except EditRefused:
            continue
    found = find_differences(TANK, model)
    assert bool(found) == (model != TANK)
    assert all(each.name in each.words or each.kind == "model" for each in found)
    assert all(each.words[0].isupper() and each.words.endswith(".") for each in found)
    before, after = elements(TANK), elements(model)
    renamed = {(each.kind, each.name) for each in found if each.what == "renamed"}
    added = {(each.kind, each.name) for each in found if each.what == "added"}
    removed = {(each.kind, each.name) for each in found if each.what == "removed"}
    changed = {(each.kind, each.name) for each in found if each.what == "changed"}
    assert added | renamed == set(after) - set(before)
    assert removed <= set(before) - set(after)
    assert len(set(before) - set(after)) == len(removed) + len(renamed)
    differing = {key for key in set(before) & set(after) if before[key] != after[key]}
    if renamed:  # who only uses what is renamed isn't told
        assert {key for key in changed if key in before and key in after} <= differing
    else:
        assert {key for key in changed if key[0] != "model"} == differing
    assert find_differences(model, model) == ()
    assert len(find_differences(model, TANK)) > 0 or model == TANK
