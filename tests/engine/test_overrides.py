"""A model with overrides: what it becomes, what is computed of it, what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.json_overrides import read_overrides, write_overrides
from faulttree.engine.model import (
    Call,
    CommonCauseGroup,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
)
from faulttree.engine.overrides import Overrides, apply_overrides, find_problems
from faulttree.engine.quantify import quantify
from faulttree.engine.report import to_json
from faulttree.engine.request import Request
from faulttree.engine.results import Quantification
from tests.engine.models import both, combine, either, make_model

GROUP = CommonCauseGroup("pumps", "beta-factor", ("A", "B"), Number(0.1), ((2, Number(0.2)),))


def plain() -> Model:
    """TOP = A and B, or C while the switch H is on."""
    gates = {"TOP": either("PAIR", both("C", "H")), "PAIR": both("A", "B")}
    return make_model(gates, {"A": 0.1, "B": 0.2, "C": 0.05}, {"H": True})


def timed() -> Model:
    """One event with a rate that is a parameter."""
    law = Call("exponential", (ParameterReference("rate"), MissionTime()))
    model = make_model({"TOP": either("A")}, {"A": law})
    return replace(model, parameters={"rate": Parameter("rate", Number(1e-3))})


def compute(model: Model, **overrides: object) -> Quantification:
    """The answer with overrides."""
    return quantify(model, Request(overrides=Overrides(**overrides)))  # type: ignore[arg-type]


def listed(result: Quantification) -> list[tuple[str, ...]]:
    """The minimal cut sets."""
    assert result.cut_sets is not None
    return [cut.events for cut in result.cut_sets.listed]


def test_nothing_overridden_is_the_model_itself() -> None:
    model = plain()
    assert apply_overrides(model, Overrides(mission_time=3.0)) is model
    assert "overrides" not in to_json(quantify(model))


def test_an_event_that_is_ruled_out_is_in_no_cut_set_and_its_gate_keeps_it() -> None:
    result = compute(plain(), events={"A": False})
    assert listed(result) == [("C",)]
    assert result.probability == pytest.approx(0.05)
    changed = apply_overrides(plain(), Overrides(events={"A": False}))
    assert changed.gates == plain().gates
    assert changed.house_events["A"].value is False


def test_an_event_that_is_certain_shortens_its_cut_sets() -> None:
    result = compute(plain(), events={"A": True})
    assert listed(result) == [("B",), ("C",)]
    assert result.probability == pytest.approx(1 - 0.8 * 0.95)


def test_a_top_event_that_is_certain_has_the_empty_cut_set() -> None:
    result = compute(plain(), events={"C": True})
    assert (result.probability, listed(result)) == (1.0, [()])


def test_a_top_event_that_can_not_occur_has_none() -> None:
    result = compute(plain(), events={"A": False, "C": False})
    assert (result.probability, listed(result)) == (0.0, [])


def test_a_probability_a_switch_and_a_parameter_take_the_place_of_theirs() -> None:
    assert compute(plain(), events={"A": Number(0.5)}).probability == pytest.approx(1 - 0.9 * 0.95)
    assert compute(plain(), houses={"H": False}).probability == pytest.approx(0.02)
    result = compute(timed(), parameters={"rate": Number(0.0)}, mission_time=5.0)
    assert result.probability == 0.0


def test_the_mission_time_goes_before_that_of_the_request() -> None:
    request = Request(mission_time=1.0, overrides=Overrides(mission_time=9.0))
    assert quantify(timed(), request).mission_time == 9.0
    assert quantify(timed(), request).probability == quantify(timed(), Request(mission_time=9.0)).probability


def test_notes_and_json_say_what_was_different() -> None:
    result = compute(plain(), events={"A": False, "B": Number(0.25)}, houses={"H": False}, mission_time=4.0)
    assert to_json(result)["overrides"] == {
        "events": {"A": False, "B": 0.25},
        "houses": {"H": False},
        "mission_time": 4.0,
    }
    words = "A ruled out; B with probability 0.25; H switched off; mission time 4 h"
    assert f"Computed with overrides of the tree: {words}." in result.notes


def grouped() -> Model:
    """Two pumps with a common cause; both must fail."""
    return replace(make_model({"TOP": both("A", "B")}, {"A": 0.1, "B": 0.1}), common_cause_groups={"pumps": GROUP})


def test_a_member_that_is_certain_leaves_the_others_their_whole_probability() -> None:
    """A has failed for a reason of its own: what is left is B alone (0.08) or the shared cause (0.02)."""
    result = compute(grouped(), events={"A": True})
    assert result.probability == pytest.approx(1 - (1 - 0.08) * (1 - 0.02))
    assert listed(result) == [("pumps-B-alone",), ("pumps-all",)]
    assert any(note.startswith("A is set alone") for note in result.notes)


def test_a_member_that_is_ruled_out_does_not_make_the_others_better() -> None:
    either_fails = replace(grouped(), gates=make_model({"TOP": either("A", "B")}, {}).gates)
    assert compute(grouped(), events={"A": False}).probability == 0.0
    assert compute(either_fails, events={"A": False}).probability == pytest.approx(1 - (1 - 0.08) * (1 - 0.02))


def test_what_members_share_can_be_ruled_out() -> None:
    assert compute(grouped(), events={"pumps-all": False}).probability == pytest.approx(0.08 * 0.08)


def test_the_probability_of_a_member_is_refused() -> None:
    with pytest.raises(BadModel, match="follows from its common-cause group pumps"):
        compute(grouped(), events={"A": Number(0.5)})


def test_every_name_that_is_not_there_is_told() -> None:
    overrides = Overrides({"PUMP": True, "A": ParameterReference("speed")}, {"winter": True}, {"rate": Number(1.0)})
    told = [problem.message for problem in find_problems(plain(), overrides)]
    assert told == [
        "There is no basic event PUMP.",
        "There is no parameter speed.",
        "There is no house event winter.",
        "There is no parameter rate.",
    ]
    with pytest.raises(BadModel, match="PUMP"):
        quantify(plain(), Request(overrides=overrides))


@pytest.mark.parametrize(
    ("model", "overrides", "told"),
    [
        (plain(), Overrides(events={"A": Number(1.5)}), "outside"),
        (timed(), Overrides(parameters={"rate": ParameterReference("rate")}), "rate"),
        (timed(), Overrides(mission_time=-1.0), "mission time"),
    ],
)
def test_what_can_not_be_computed_is_refused(model: Model, overrides: Overrides, told: str) -> None:
    with pytest.raises(BadModel, match=told):
        quantify(model, Request(mission_time=1.0, overrides=overrides))


def test_evidence_on_what_is_set_is_refused() -> None:
    request = Request(overrides=Overrides(events={"A": True}), evidence={"A": False})
    with pytest.raises(BadModel, match="A is set by the overrides"):
        quantify(plain(), request)


def test_overrides_come_back_from_json_as_they_were() -> None:
    law = Call("exponential", (ParameterReference("rate"), MissionTime()))
    overrides = Overrides({"A": False, "B": True, "C": law}, {"H": False}, {"rate": Number(2.0)}, 8.0)
    assert read_overrides(write_overrides(overrides)) == overrides
    assert write_overrides(Overrides()) == {}
    assert read_overrides({}) == Overrides()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        ([], "not an object"),
        ({"event": {}}, "There is no part event"),
        ({"events": []}, "not an object"),
        ({"events": {"A": None}}, "not an expression"),
        ({"events": {"A": {"magic": []}}}, "magic is not supported"),
        ({"houses": {"H": 1}}, "true or false"),
        ({"parameters": {"rate": True}}, "not an expression"),
        ({"mission_time": -1}, "no mission time"),
        ({"mission_time": True}, "no mission time"),
    ],
)
def test_json_of_another_shape_is_refused(data: object, told: str) -> None:
    with pytest.raises(BadModel, match=told):
        read_overrides(data)


def test_deep_nesting_is_refused() -> None:
    deep: object = 1.0
    for _ in range(5_000):
        deep = {"neg": [deep]}
    with pytest.raises(BadModel, match="nested too deeply"):
        read_overrides({"events": {"A": deep}})


def test_a_gate_of_counts_keeps_counting() -> None:
    """2 of 3 with one certain is 1 of 2."""
    model = make_model({"TOP": combine("atleast", "A", "B", "C", low=2)}, {"A": 0.1, "B": 0.2, "C": 0.3})
    assert compute(model, events={"A": True}).probability == pytest.approx(1 - 0.8 * 0.7)
