"""What options do alone, together and step by step: each figure is that of the model rebuilt."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings

from faulttree.engine.effects.apply import apply_effects
from faulttree.engine.effects.kinds import Effect, EffectKind, Option
from faulttree.engine.effects.weigh import Weighed, weigh_options
from faulttree.engine.errors import BadModel
from faulttree.engine.model import BasicEvent, Call, MissionTime, Model, Number, Parameter, ParameterReference
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.engine.effects.cases import KEYS, cases, holds_together
from tests.engine.models import both, either, make_model

K = EffectKind
OPTIONS = [Option(key) for key in KEYS]
SETTINGS = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def rebuild(model: Model, top: str, effects: list[Effect], keys: set[str]) -> float | None:
    if not holds_together(effects, sorted(keys)):
        return None
    changed = apply_effects(model, [effect for effect in effects if effect.option in keys])
    return quantify(changed, Request(top)).probability


@SETTINGS
@given(cases())
def test_every_figure_is_that_of_the_rebuilt_model(case: tuple[Model, str, list[Effect]]) -> None:
    model, top, effects = case
    weighed = weigh_options(model, top, OPTIONS, effects)
    close = {"rel": 1e-9, "abs": 1e-13}
    assert weighed.before.probability == pytest.approx(rebuild(model, top, effects, set()), **close)
    for key in KEYS:
        assert weighed.alone[key].probability == pytest.approx(rebuild(model, top, effects, {key}), **close)
        without, expected = weighed.without[key], rebuild(model, top, effects, set(KEYS) - {key})
        assert (without is None) == (expected is None)
        if without is not None:
            assert without.probability == pytest.approx(expected, **close)
    together = rebuild(model, top, effects, set(KEYS))
    assert (weighed.together is None) == (together is None)
    if weighed.together is not None:
        assert weighed.together.probability == pytest.approx(together, **close)


@SETTINGS
@given(cases())
def test_steps_take_what_leaves_least(case: tuple[Model, str, list[Effect]]) -> None:
    model, top, effects = case
    steps = weigh_options(model, top, OPTIONS, effects).steps
    taken: set[str] = set()
    for step in steps:
        values = {key: rebuild(model, top, effects, {*taken, key}) for key in set(KEYS) - taken}
        assert step.probability == pytest.approx(min(v for v in values.values() if v is not None), rel=1e-9, abs=1e-13)
        taken.add(step.option)
    assert all(rebuild(model, top, effects, {*taken, key}) is None for key in set(KEYS) - taken)


def test_independent_causes_in_closed_form() -> None:
    """Source: P = 1 - product of (1 - q_i) for independent causes (any textbook of probability)."""
    q = {"a": 0.1, "b": 0.02, "c": 0.3}
    model = make_model({"top": either(*q)}, q)
    effects = [Effect(name.upper(), K.MULTIPLIED, name, 0.25) for name in q]
    weighed = weigh_options(model, "top", [Option(name.upper()) for name in q], effects)
    for name in q:
        expected = 1 - math.prod(1 - value * (0.25 if name == other else 1.0) for other, value in q.items())
        assert weighed.alone[name.upper()].probability == pytest.approx(expected, rel=1e-12)
    assert weighed.together is not None
    assert weighed.together.probability == pytest.approx(1 - math.prod(1 - v * 0.25 for v in q.values()), rel=1e-12)


def test_the_product_form_is_right_where_every_option_scales_the_whole() -> None:
    """Source: P(all of n independent events) is a product (any textbook of probability)."""
    model = make_model({"top": both("a", "b")}, {"a": 0.1, "b": 0.02})
    effects = [Effect("A", K.MULTIPLIED, "a", 0.5), Effect("B", K.BARRIER, "top", 0.1)]
    weighed = weigh_options(model, "top", [Option("A"), Option("B")], effects)
    assert weighed.interaction is not None
    assert weighed.together is not None
    assert weighed.interaction.product == pytest.approx(weighed.together.probability, rel=1e-12)
    assert weighed.interaction.summed == pytest.approx(0.002 * 1.4, rel=1e-12)
    assert weighed.interaction.recomputed == pytest.approx(0.002 * 0.95, rel=1e-12)


def uncertain(*, by_parameter: bool) -> Model:
    deviate = Call("lognormal-deviate", (Number(1e-4), Number(3.0), Number(0.95)))
    law = Call("exponential", (deviate, MissionTime()))
    tree = make_model({"top": either("a", "b")}, {})
    if not by_parameter:
        return Model(gates=tree.gates, basic_events={"a": BasicEvent("a", law), "b": BasicEvent("b", Number(0.0))})
    events = {name: BasicEvent(name, ParameterReference("law")) for name in "ab"}
    return Model(gates=tree.gates, basic_events=events, parameters={"law": Parameter("law", law)})


def weigh_uncertain(model: Model, effects: list[Effect]) -> Weighed:
    return weigh_options(model, "top", [Option("A")], effects, mission_time=10.0, samples=2_000, seed=3)


def test_the_same_draws_for_every_variant() -> None:
    """A factor on the probability scales every sample, so every percentile, by itself."""
    weighed = weigh_uncertain(uncertain(by_parameter=False), [Effect("A", K.MULTIPLIED, "a", 0.5)])
    alone, before = weighed.alone["A"], weighed.before
    for figure in ("p05", "p50", "p95", "mean"):
        assert getattr(alone, figure) == pytest.approx(getattr(before, figure) * 0.5, rel=1e-12)
    request = Request("top", mission_time=10.0, samples=2_000, seed=3)
    sampled = quantify(uncertain(by_parameter=False), request).uncertainty
    assert sampled is not None
    assert (before.p05, before.p95) == pytest.approx((sampled.p05, sampled.p95), rel=1e-12)


def test_an_event_that_leaves_a_parameter_keeps_its_draws() -> None:
    """Twice the rate of one of two events of one uncertain rate: 1 - exp(-3 r t) of the same r, so monotone in it."""
    model = uncertain(by_parameter=True)
    effects = [Effect("A", K.MULTIPLIED, "a", 2.0, "rate")]
    weighed = weigh_uncertain(model, effects)
    alone, before = weighed.alone["A"], weighed.before
    assert before.p95 is not None
    assert alone.p95 == pytest.approx(-math.expm1(1.5 * math.log1p(-before.p95)), rel=1e-3)
    changed = apply_effects(model, effects)
    sampled = quantify(changed, Request("top", mission_time=10.0, samples=2_000, seed=3)).uncertainty
    assert sampled is not None
    assert sampled.p95 == pytest.approx(alone.p95, rel=1e-12)


def test_without_uncertain_parameters_there_is_no_range() -> None:
    model = make_model({"top": either("a")}, {"a": 0.5})
    weighed = weigh_options(model, "top", [Option("A")], [Effect("A", K.RULED_OUT, "a")], samples=100)
    assert weighed.before.p05 is None
    assert not weighed.is_uncertain


def test_clashing_options_have_no_figure_together_and_the_note_says_so() -> None:
    model = make_model({"top": either("a", "b")}, {"a": 0.5, "b": 0.25})
    effects = [Effect("A", K.REPLACED, "a", 0.1), Effect("B", K.REPLACED, "a", 0.2), Effect("C", K.RULED_OUT, "b")]
    weighed = weigh_options(model, "top", [Option(key) for key in "ABC"], effects)
    assert weighed.together is None
    assert weighed.without["C"] is None
    assert weighed.without["A"] is not None
    assert weighed.clashes == (("A", "B"),)
    assert [step.option for step in weighed.steps] == ["A", "C"]
    assert any("A and B can't hold together" in note for note in weighed.notes)


def test_an_effect_of_no_option_is_refused() -> None:
    model = make_model({"top": either("a")}, {"a": 0.5})
    with pytest.raises(BadModel, match="no option B"):
        weigh_options(model, "top", [Option("A")], [Effect("B", K.RULED_OUT, "a")])


@pytest.mark.parametrize("samples", [-1, 1, 10**6])
def test_a_wrong_number_of_samples_is_refused(samples: int) -> None:
    model = make_model({"top": either("a")}, {"a": 0.5})
    with pytest.raises(BadModel, match="samples"):
        weigh_options(model, "top", [], [], samples=samples)


def test_an_option_that_reaches_nothing_is_named() -> None:
    model = make_model({"top": either("a"), "aside": either("b")}, {"a": 0.5, "b": 0.5})
    weighed = weigh_options(model, "top", [Option("A")], [Effect("A", K.RULED_OUT, "b")])
    assert weighed.alone["A"] == weighed.before
    assert any("A changes nothing" in note for note in weighed.notes)
    assert np.isclose(weighed.before.probability, 0.5)


def test_no_effects_leave_everything_as_it_is() -> None:
    model = make_model({"top": either("a")}, {"a": 0.5})
    weighed = weigh_options(model, "top", [], [])
    assert weighed.together == weighed.before
    assert weighed.interaction is None
    assert weighed.steps == ()


@SETTINGS
@given(cases(coherent=True))
def test_coherent_trees_never_get_worse(case: tuple[Model, str, list[Effect]]) -> None:
    model, top, effects = case
    assume(all(effect.kind != K.REPLACED for effect in effects))
    weighed = weigh_options(model, top, OPTIONS, effects)
    assert all(each.probability <= weighed.before.probability * (1 + 1e-9) for each in weighed.alone.values())
