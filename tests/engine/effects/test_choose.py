"""The best set within limits, against every set rebuilt and quantified by itself."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from faulttree.engine.effects.choose import EVERY_SET, MOST_SUBSETS, PROGRAMME, choose_options
from faulttree.engine.effects.kinds import Effect, EffectKind, Limits, Option
from faulttree.engine.errors import BadModel
from faulttree.engine.model import Model
from tests.engine.effects.cases import KEYS, cases, holds_together
from tests.engine.effects.test_weigh import rebuild
from tests.engine.models import either, make_model

K = EffectKind
SETTINGS = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
AMOUNT = st.integers(0, 5).map(float)
MAYBE = st.none() | st.integers(0, 12).map(float)


@dataclass(frozen=True)
class Asked:
    """Rules over the five options of a random case."""

    options: list[Option]
    limits: Limits
    must: set[str]
    excludes: set[frozenset[str]]
    needs: set[tuple[str, str]]

    def allow(self, keys: set[str], effects: list[Effect]) -> bool:
        held = [option for option in self.options if option.key in keys]
        taken = {
            "cost": sum(each.cost for each in held),
            "mass": sum(each.mass for each in held),
            "crew_hours": sum(each.crew_hours for each in held),
            "lead_days": max((each.lead_days for each in held), default=0.0),
        }
        within = all(getattr(self.limits, k) is None or v <= getattr(self.limits, k) for k, v in taken.items())
        return (
            within
            and self.must <= keys
            and not any(pair <= keys for pair in self.excludes)
            and all(one not in keys or other in keys for one, other in self.needs)
            and holds_together(effects, sorted(keys))
        )


@st.composite
def rules(draw: st.DrawFn) -> Asked:
    options = [Option(key, draw(AMOUNT), draw(AMOUNT), draw(AMOUNT), draw(AMOUNT)) for key in KEYS]
    pairs = st.tuples(st.sampled_from(KEYS), st.sampled_from(KEYS)).filter(lambda pair: pair[0] != pair[1])
    return Asked(
        options,
        Limits(draw(MAYBE), draw(MAYBE), draw(MAYBE), draw(st.none() | AMOUNT)),
        draw(st.sets(st.sampled_from(KEYS), max_size=1)),
        {frozenset(pair) for pair in draw(st.lists(pairs, max_size=1))},
        set(draw(st.lists(pairs, max_size=2))),
    )


def every_set() -> list[set[str]]:
    return [set(keys) for size in range(len(KEYS) + 1) for keys in itertools.combinations(KEYS, size)]


@SETTINGS
@given(cases(), rules(), st.booleans())
def test_the_choice_is_that_of_brute_force(
    case: tuple[Model, str, list[Effect]], asked: Asked, by_programme: bool
) -> None:
    model, top, effects = case
    allowed = [keys for keys in every_set() if asked.allow(keys, effects)]

    def choose() -> tuple[set[str], float, str, float, float]:
        found = choose_options(
            model,
            top,
            asked.options,
            effects,
            asked.limits,
            must=asked.must,
            excludes=asked.excludes,
            needs=asked.needs,
            most_subsets=0 if by_programme else MOST_SUBSETS,
        )
        return set(found.chosen), found.probability, found.method, found.lower_bound, found.gap

    if not allowed:
        with pytest.raises(BadModel):
            choose()
        return
    chosen, probability, method, lower, gap = choose()
    values = [rebuild(model, top, effects, keys) for keys in allowed]
    least = min(value for value in values if value is not None)
    assert method == (PROGRAMME if by_programme else EVERY_SET)
    assert chosen in allowed
    assert probability == pytest.approx(rebuild(model, top, effects, chosen), rel=1e-9, abs=1e-13)
    assert probability == pytest.approx(least, rel=1e-5 if by_programme else 1e-9, abs=2e-6 if by_programme else 1e-13)
    assert lower <= probability * (1 + 1e-12)
    assert gap >= 0.0
    if not by_programme:
        costs = {option.key: option.cost for option in asked.options}
        tied = [keys for keys, value in zip(allowed, values, strict=True) if value == least]
        fewest = min((len(keys), sum(costs[key] for key in keys)) for keys in tied)
        exactly = [keys for keys in allowed if keys == chosen]
        assume(rebuild(model, top, effects, exactly[0]) == least)  # else rounding decides
        assert (len(chosen), sum(costs[key] for key in chosen)) <= fewest


@SETTINGS
@given(cases(), rules())
def test_no_point_of_the_frontier_is_beaten(case: tuple[Model, str, list[Effect]], asked: Asked) -> None:
    model, top, effects = case
    limits = Limits(None, asked.limits.mass)
    found = choose_options(model, top, asked.options, effects, limits, excludes=asked.excludes)
    assert found.frontier is not None
    open_rules = Asked(asked.options, limits, set(), asked.excludes, set())
    cost = {option.key: option.cost for option in asked.options}
    sets = [keys for keys in every_set() if open_rules.allow(keys, effects)]
    figures = [(sum(cost[key] for key in keys), rebuild(model, top, effects, keys)) for keys in sets]
    for point in found.frontier:
        assert point.cost == sum(cost[key] for key in point.options)
        best = min(p for c, p in figures if p is not None and c <= point.cost)
        assert point.probability == pytest.approx(best, rel=1e-6, abs=1e-12)
    assert [p.cost for p in found.frontier] == sorted({p.cost for p in found.frontier})
    assert found.frontier[-1].probability == pytest.approx(found.probability, rel=1e-6, abs=1e-12)


def test_ties_go_to_fewest_options_then_least_cost() -> None:
    model = make_model({"top": either("a", "b")}, {"a": 0.5, "b": 0.25})
    effects = [Effect(key, K.RULED_OUT, "a") for key in "ABC"]
    options = [Option("A", 3.0), Option("B", 2.0), Option("C", 2.5)]
    for most in (MOST_SUBSETS, 0):
        found = choose_options(model, "top", options, effects, Limits(), most_subsets=most)
        assert len(found.chosen) == 1
        assert found.probability == pytest.approx(0.25)
    assert choose_options(model, "top", options, effects, Limits()).chosen == ("B",)


def test_what_must_be_chosen_has_to_keep_to_the_limits() -> None:
    model = make_model({"top": either("a")}, {"a": 0.5})
    effects = [Effect("A", K.RULED_OUT, "a")]
    with pytest.raises(BadModel, match="takes 3 of cost, and the limit is 2"):
        choose_options(model, "top", [Option("A", 3.0)], effects, Limits(cost=2.0), must=["A"])


def test_an_option_that_makes_it_worse_is_left_out() -> None:
    """The tree is not coherent: less of `a` lets the top event through."""
    model = make_model({"top": either("-a", "b")}, {"a": 0.5, "b": 0.25})
    effects = [Effect("A", K.RULED_OUT, "a"), Effect("B", K.RULED_OUT, "b")]
    for most in (MOST_SUBSETS, 0):
        found = choose_options(model, "top", [Option("A"), Option("B")], effects, Limits(), most_subsets=most)
        assert found.chosen == ("B",)


def test_a_negative_limit_is_refused() -> None:
    model = make_model({"top": either("a")}, {"a": 0.5})
    with pytest.raises(BadModel, match="cost is -1"):
        choose_options(model, "top", [], [], Limits(cost=-1.0))
