"""Common-cause groups: sum rule, derived events, shared draws."""

from __future__ import annotations

from dataclasses import replace
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from faulttree.engine.errors import BadModel
from faulttree.engine.events import common_cause
from faulttree.engine.events.common_cause import derive_events, expand_common_cause
from faulttree.engine.events.sampling import Sampling
from faulttree.engine.events.table import EventTable
from faulttree.engine.model import CommonCauseGroup, Model, references
from faulttree.engine.validate import check_model
from tests.engine.events.builders import TIME, call, make_events, make_group

SHARES = st.floats(0.0, 1.0)
TOTALS = st.floats(1e-9, 1.0)


def expand(*groups: CommonCauseGroup, **parameters: object) -> Model:
    """A model of the groups' members, written out."""
    members = {member: 0.5 for group in groups for member in group.members}
    model = make_events(members, parameters)  # type: ignore[arg-type]
    return expand_common_cause(replace(model, common_cause_groups={group.name: group for group in groups}))


def level_values(model: Model, group: CommonCauseGroup) -> list[float]:
    """Probability of a derived event of each size, checking that all of one size agree; 0 where there is none."""
    derived = derive_events(group)
    p = EventTable(model, tuple(event.name for _, event in derived)).probabilities(None)
    levels: list[set[float]] = [set() for _ in group.members]
    for (members, _), value in zip(derived, p, strict=True):
        levels[len(members) - 1].add(float(value))
    assert all(len(values) <= 1 for values in levels)
    return [values.pop() if values else 0.0 for values in levels]


def member_total(levels: list[float]) -> float:
    """Sum over the derived events that contain one member."""
    n = len(levels)
    return sum(comb(n - 1, k - 1) * q for k, q in enumerate(levels, 1))


@given(SHARES, st.integers(2, 9), TOTALS)
def test_beta_levels_add_up_to_the_total(beta: float, n: int, total: float) -> None:
    assert member_total(common_cause.beta_levels(beta, n, total)) == pytest.approx(total)


@given(st.lists(SHARES, min_size=1, max_size=7), TOTALS)
def test_mgl_levels_add_up_to_the_total(rho: list[float], total: float) -> None:
    assert member_total(common_cause.mgl_levels(rho, total)) == pytest.approx(total)


ALPHAS = st.lists(st.floats(0.01, 1.0), min_size=2, max_size=8).map(lambda x: [value / sum(x) for value in x])


@given(ALPHAS, TOTALS)
def test_alpha_and_phi_levels_add_up_to_the_total(alpha: list[float], total: float) -> None:
    assert member_total(common_cause.alpha_levels(alpha, total)) == pytest.approx(total)
    assert member_total(common_cause.alpha_staggered_levels(alpha, total)) == pytest.approx(total)
    assert member_total(common_cause.phi_levels(alpha, total)) == pytest.approx(total)


@given(ALPHAS, TOTALS)
def test_alpha_factors_turned_into_greek_letters_give_the_same_levels(alpha: list[float], total: float) -> None:
    for staggered, levels in ((False, common_cause.alpha_levels), (True, common_cause.alpha_staggered_levels)):
        rho = common_cause.alpha_to_mgl(alpha, staggered=staggered)
        assert common_cause.mgl_levels(rho, total) == pytest.approx(levels(alpha, total), rel=1e-9)


@pytest.mark.parametrize(
    ("group", "levels"),
    [
        (make_group("beta-factor", "ab", 1e-3, 0.1), common_cause.beta_levels(0.1, 2, 1e-3)),
        (make_group("beta-factor", "abcdefghijkl", 1e-3, 0.1), common_cause.beta_levels(0.1, 12, 1e-3)),
        (make_group("MGL", "ab", 1e-3, 0.1), common_cause.mgl_levels([0.1], 1e-3)),
        (make_group("MGL", "abcd", 1e-3, 0.1, 0.2, 0.3), common_cause.mgl_levels([0.1, 0.2, 0.3], 1e-3)),
        (
            make_group("alpha-factor", "abc", 1e-3, 0.95, 0.03, 0.02),
            common_cause.alpha_levels([0.95, 0.03, 0.02], 1e-3),
        ),
        (make_group("phi-factor", "abc", 1e-3, 0.9, 0.07, 0.03), common_cause.phi_levels([0.9, 0.07, 0.03], 1e-3)),
    ],
)
def test_derived_events_have_the_probabilities_of_their_levels(group: CommonCauseGroup, levels: list[float]) -> None:
    assert level_values(expand(group), group) == pytest.approx(levels)


def test_a_member_becomes_an_or_gate_over_the_events_that_fail_it() -> None:
    model = expand(make_group("alpha-factor", "abc", 1e-3, 0.9, 0.07, 0.03, name="pumps"))
    assert list(references(model.gates["b"].formula)) == [
        "pumps-b-alone",
        "pumps-a-b-together",
        "pumps-b-c-together",
        "pumps-all",
    ]
    assert len(model.basic_events) == 7
    assert model.basic_events["pumps-a-b-together"].placing.label == "a, b fail together (alpha-factor)"
    assert not model.common_cause_groups


def test_a_model_without_groups_stays_as_it_is() -> None:
    model = make_events({"a": 0.1})
    assert expand_common_cause(model) is model


@pytest.mark.parametrize(
    "members",
    [("left.pump", "right.pump"), ("a", "b-c", "a-b", "c"), ("x.a", "x-a", "y.a")],
)
def test_members_with_like_names_keep_events_of_their_own(members: tuple[str, ...]) -> None:
    group = make_group("MGL", members, 1e-3, *[0.1] * (len(members) - 1), name="tree.group")
    names = [event.name for _, event in derive_events(group)]
    assert len(set(names)) == 2 ** len(members) - 1
    assert not any("." in name for name in names)
    model = expand(group)
    alone = [next(iter(references(model.gates[member].formula))) for member in members]
    assert len(set(alone)) == len(members)


def test_a_derived_name_that_is_taken_is_refused() -> None:
    group = make_group("beta-factor", "ab", 1e-3, 0.1)
    model = replace(make_events({"a": 0.1, "b": 0.1, "group-all": 0.1}), common_cause_groups={"group": group})
    with pytest.raises(BadModel, match="needs the name group-all, which is taken"):
        expand_common_cause(model)


def test_groups_that_would_explode_are_refused() -> None:
    with pytest.raises(BadModel, match="9 members would give 511 events"):
        expand(make_group("MGL", "abcdefghi", 1e-3, *[0.1] * 8))


def test_one_draw_of_total_and_factors_serves_the_whole_group() -> None:
    group = make_group("MGL", "abc", call("uniform-deviate", 0.01, 0.02), call("beta-deviate", 2.0, 8.0), 0.5)
    model = expand(group)
    derived = derive_events(group)
    table = EventTable(model, tuple(event.name for _, event in derived))
    rows = table.sample(None, Sampling(200, 1, "latin-hypercube", 0, 200)).probability
    sizes = np.array([len(members) for members, _ in derived])
    for size in (1, 2, 3):
        same = rows[:, sizes == size]
        assert np.array_equal(same, np.repeat(same[:, :1], same.shape[1], axis=1))
    total = rows[:, sizes == 1][:, 0] + 2.0 * rows[:, sizes == 2][:, 0] + rows[:, sizes == 3][:, 0]
    assert 0.01 <= total.min() < 0.0101
    assert 0.0199 < total.max() <= 0.02


def test_time_and_failure_intensity_pass_through_a_group() -> None:
    group = make_group("alpha-factor", "abc", call("exponential", "rate", TIME), 0.9, 0.07, 0.03)
    model = expand(group, rate=1e-3)
    derived = derive_events(group)
    values = EventTable(model, tuple(event.name for _, event in derived)).over_time(np.array([0.0, 100.0]))
    member = [k for k, (members, _) in enumerate(derived) if "a" in members]
    assert values.probability[:, member].sum(axis=1) == pytest.approx([0.0, 1.0 - np.exp(-0.1)])
    assert values.failure_intensity[:, member].sum(axis=1) == pytest.approx([1e-3, 1e-3 * np.exp(-0.1)])


def test_phi_factors_that_are_no_shares_of_one_whole_are_refused() -> None:
    group = make_group("phi-factor", "abc", 1e-3, 0.9, 0.1, 0.07)
    with pytest.raises(BadModel, match=r"The phi factors add up to 1\.07"):
        check_model(replace(make_events(dict.fromkeys("abc", 0.1)), common_cause_groups={group.name: group}))


def test_phi_factors_may_carry_the_rounding_of_print() -> None:
    group = make_group("phi-factor", "abc", 1e-3, 0.333, 0.333, 0.333)
    check_model(replace(make_events(dict.fromkeys("abc", 0.1)), common_cause_groups={group.name: group}))
