"""Effects put into a model: against rebuilding by hand, against enumeration, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from faulttree.engine.editing.marks import LIBRARY, read_mark
from faulttree.engine.effects.apply import apply_effects
from faulttree.engine.effects.kinds import Effect, EffectKind, find_clashes
from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import (
    BasicEvent,
    Call,
    CommonCauseGroup,
    HouseEvent,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Placing,
)
from faulttree.engine.overrides import Overrides
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.validate import find_tops
from tests.engine.effects.cases import cases, find_by_enumeration, holds_together
from tests.engine.models import both, either, make_model

K = EffectKind
SETTINGS = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
HOURS = 100.0


def plain() -> Model:
    return make_model({"top": either("g", "c"), "g": both("a", "b")}, {"a": 0.2, "b": 0.5, "c": 0.01})


def probability(model: Model, hours: float | None = None) -> float:
    found = quantify(model, Request("top", mission_time=hours)).probability
    assert found is not None
    return found


@SETTINGS
@given(cases(), st.data())
def test_the_changed_model_has_the_probability_that_the_definition_gives(
    case: tuple[Model, str, list[Effect]], data: st.DataObject
) -> None:
    model, top, effects = case
    keys = data.draw(st.sets(st.sampled_from("ABCDE"), max_size=3))
    chosen = [effect for effect in effects if effect.option in keys]
    assume(holds_together(chosen, sorted(keys)))
    values = {(e.target, e.kind, e.of, e.amount) for e in chosen if e.kind == K.REPLACED}
    assert len({target for target, *_ in values}) == len(values)
    changed = apply_effects(model, chosen)
    found = quantify(changed, Request(top)).probability
    assert found == pytest.approx(find_by_enumeration(model, top, chosen), rel=1e-9, abs=1e-13)
    assert set(find_tops(changed)) == set(find_tops(model))


@pytest.mark.parametrize(
    ("effect", "expected"),
    [
        (Effect("A", K.RULED_OUT, "a"), 0.01),
        (Effect("A", K.MULTIPLIED, "a", 0.1), 1 - (1 - 0.02 * 0.5) * 0.99),
        (Effect("A", K.REPLACED, "c", 0.002), 1 - (1 - 0.1) * 0.998),
        (Effect("A", K.BARRIER, "c", 0.25), 1 - (1 - 0.1) * (1 - 0.0025)),
        (Effect("A", K.BARRIER, "g", 0.25), 1 - (1 - 0.025) * 0.99),
        (Effect("A", K.BARRIER, "top", 0.25), 0.25 * (1 - 0.9 * 0.99)),
        (Effect("A", K.DETECTION, "a", 0.75), 1 - (1 - 0.2 * 0.25 * 0.5) * 0.99),
    ],
)
def test_each_kind(effect: Effect, expected: float) -> None:
    assert probability(apply_effects(plain(), [effect])) == pytest.approx(expected, rel=1e-12)


def test_what_was_changed_can_be_written_and_read() -> None:
    effects = [
        Effect("A-1", K.BARRIER, "top", 0.25),
        Effect("A-1", K.DETECTION, "a", 0.75, new_event="MISSED"),
        Effect("B", K.RULED_OUT, "b"),
    ]
    changed = apply_effects(plain(), effects)
    assert "MISSED" in changed.basic_events
    again = read_open_psa(write_open_psa(changed))
    assert probability(again) == probability(changed)


def exposed(call: Call) -> Model:
    return make_model({"top": either("a", "b")}, {"a": call, "b": 0.0})


@pytest.mark.parametrize(
    ("call", "rate"),
    [
        (Call("exponential", (Number(1e-3), MissionTime())), 1e-3),
        (Call("mul", (Number(0.5), Call("exponential", (Number(1e-3), MissionTime())))), 1e-3),
        (Call("GLM", (Number(0.0), Number(1e-3), Number(0.0), MissionTime())), 1e-3),
        (Call("periodic-test", (Number(1e-3), Number(1e4), Number(1e4), MissionTime())), 1e-3),
    ],
)
def test_a_rate_is_multiplied_or_replaced(call: Call, rate: float) -> None:
    factor = 0.5 if call.function == "mul" else 1.0
    expected = factor * -math.expm1(-rate * 0.1 * HOURS)
    multiplied = apply_effects(exposed(call), [Effect("A", K.MULTIPLIED, "a", 0.1, "rate")])
    replaced = apply_effects(exposed(call), [Effect("A", K.REPLACED, "a", rate * 0.1, "rate")])
    assert probability(multiplied, HOURS) == pytest.approx(expected, rel=1e-12)
    assert probability(replaced, HOURS) == pytest.approx(expected, rel=1e-12)


def test_an_interval_moves_a_first_test_that_came_after_one_interval() -> None:
    call = Call("periodic-test", (Number(1e-3), Number(80.0), Number(80.0), MissionTime()))
    changed = apply_effects(exposed(call), [Effect("A", K.INTERVAL, "a", 30.0)])
    assert probability(changed, HOURS) == pytest.approx(-math.expm1(-1e-3 * 10.0), rel=1e-12)


def test_replaced_then_interval_then_multiplied_and_ruled_out_wins() -> None:
    call = Call("periodic-test", (Number(1e-3), Number(80.0), Number(80.0), MissionTime()))
    effects = [
        Effect("A", K.MULTIPLIED, "a", 0.5),
        Effect("B", K.INTERVAL, "a", 60.0),
        Effect("C", K.REPLACED, "a", 2e-3, "rate"),
    ]
    found = probability(apply_effects(exposed(call), effects), HOURS)
    assert found == pytest.approx(0.5 * -math.expm1(-2e-3 * 40.0), rel=1e-12)
    assert probability(apply_effects(exposed(call), [*effects, Effect("D", K.RULED_OUT, "a")]), HOURS) == 0.0


def test_a_shared_parameter_stays_and_the_event_leaves_the_library() -> None:
    law = Call("exponential", (Number(1e-3), MissionTime()))
    shared = Placing(attributes=((LIBRARY, "valve", ""),))
    model = Model(
        gates=make_model({"top": either("a", "b")}, {}).gates,
        basic_events={name: BasicEvent(name, ParameterReference("law"), shared) for name in "ab"},
        parameters={"law": Parameter("law", law)},
    )
    changed = apply_effects(model, [Effect("A", K.MULTIPLIED, "a", 0.0, "rate")])
    assert changed.parameters == model.parameters
    assert probability(changed, HOURS) == pytest.approx(-math.expm1(-0.1), rel=1e-12)
    assert [read_mark(changed.basic_events[name].placing, LIBRARY) for name in "ab"] == ["", "valve"]


def grouped() -> Model:
    group = CommonCauseGroup("pumps", "beta-factor", ("a", "b"), Number(0.1), ((2, Number(0.2)),))
    tree = make_model({"top": both("a", "b")}, {"a": 0.0, "b": 0.0})
    events = {name: BasicEvent(name) for name in "ab"}
    return Model(gates=tree.gates, basic_events=events, common_cause_groups={"pumps": group})


def test_a_member_is_ruled_out_alone_as_by_an_override() -> None:
    model = grouped()
    model = Model(
        gates={**model.gates, "top": make_model({"top": either("a", "b")}, {}).gates["top"]},
        basic_events=model.basic_events,
        common_cause_groups=model.common_cause_groups,
    )
    overridden = quantify(model, Request("top", overrides=Overrides(events={"a": False}))).probability
    assert probability(apply_effects(model, [Effect("A", K.RULED_OUT, "a")])) == pytest.approx(overridden, rel=1e-12)


def test_a_barrier_behind_a_member_leaves_the_group() -> None:
    q_all, q_alone, barrier = 0.02, 0.08, 0.5
    pair = 1 - (1 - q_all) * (1 - q_alone**2)
    changed = apply_effects(grouped(), [Effect("A", K.BARRIER, "a", barrier)])
    assert probability(changed) == pytest.approx(barrier * pair, rel=1e-12)
    assert changed.common_cause_groups == grouped().common_cause_groups


@pytest.mark.parametrize(
    ("model", "effect", "told"),
    [
        (plain(), Effect("A", K.RULED_OUT, "d"), "no event d"),
        (plain(), Effect("A", K.RULED_OUT, "g"), "g is a gate"),
        (plain(), Effect("A", K.MULTIPLIED, "a", -1.0), "amount is -1"),
        (plain(), Effect("A", K.MULTIPLIED, "a"), "amount is nan"),
        (plain(), Effect("A", K.REPLACED, "a", 1.5), "Give 0 to 1"),
        (plain(), Effect("A", K.BARRIER, "a", 1.5), "Give 0 to 1"),
        (plain(), Effect("A", K.MULTIPLIED, "a", 0.5, "rate"), "no failure rate"),
        (plain(), Effect("A", K.INTERVAL, "a", 5.0), "not tested"),
        (plain(), Effect("A", K.INTERVAL, "a", 0.0), "more than 0"),
        (plain(), Effect("A", K.BARRIER, "a", 0.5, new_event="b"), "of this name"),
        (plain(), Effect("A", K.BARRIER, "a", 0.5, new_event="no name"), "can't be a name"),
        (grouped(), Effect("A", K.MULTIPLIED, "a", 0.5), "common-cause group pumps"),
        (grouped(), Effect("A", K.RULED_OUT, "pumps-all"), "written out to"),
        (plain(), Effect("A", K.MULTIPLIED, "a", 6.0), "outside"),
    ],
)
def test_what_can_not_be_applied_says_why(model: Model, effect: Effect, told: str) -> None:
    with pytest.raises(BadModel, match=told):
        probability(apply_effects(model, [effect]))


def test_a_house_event_has_no_probability_to_change() -> None:
    model = Model(gates=plain().gates, basic_events=plain().basic_events, house_events={"h": HouseEvent("h")})
    with pytest.raises(BadModel, match="house event"):
        apply_effects(model, [Effect("A", K.MULTIPLIED, "h", 0.5)])


def test_different_values_for_one_event_clash() -> None:
    one, other, same = (Effect(key, K.REPLACED, "a", q) for key, q in (("A", 0.1), ("B", 0.2), ("C", 0.1)))
    assert find_clashes([one, other, same]) == {frozenset("AB"), frozenset("BC")}
    with pytest.raises(BadModel, match="A and B can't hold together"):
        apply_effects(plain(), [one, other])
    assert probability(apply_effects(plain(), [one, same])) == probability(apply_effects(plain(), [one]))
    rate = Effect("D", K.MULTIPLIED, "a", 0.5, "rate")
    assert find_clashes([one, rate]) == {frozenset("AD")}


def test_one_option_that_contradicts_itself_is_refused() -> None:
    with pytest.raises(BadModel, match="two different things"):
        apply_effects(plain(), [Effect("A", K.REPLACED, "a", 0.1), Effect("A", K.REPLACED, "a", 0.2)])


def test_one_barrier_may_stand_behind_two_events() -> None:
    effects = [Effect("A", K.BARRIER, name, 0.5, new_event="GUARD") for name in ("a", "c")]
    assert probability(apply_effects(plain(), effects)) == pytest.approx(0.5 * (1 - 0.9 * 0.99), rel=1e-12)
    with pytest.raises(BadModel, match="Two effects add"):
        apply_effects(plain(), [effects[0], Effect("B", K.BARRIER, "c", 0.5, new_event="GUARD")])
