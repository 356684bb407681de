"""Rewriting and cutting into modules must keep the function."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings

from faulttree.engine.logic.build import NetBuilder, rebuild
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.modules import find_modules, split_modules
from faulttree.engine.logic.netlist import FALSE, TRUE, Netlist
from faulttree.engine.logic.orders import order_by_weight, order_depth_first, order_force
from faulttree.engine.logic.polarity import is_plainly_monotone
from faulttree.engine.logic.simplify import absorb, factor, simplify, splice
from faulttree.engine.model import Model
from faulttree.engine.truncation.positive import drop_negations, negated_variables
from tests.engine import oracle
from tests.engine.models import both, either, make_model, random_models, top_of

SETTINGS = settings(max_examples=200, deadline=None)


def _table(netlist: Netlist) -> list[bool]:
    states = itertools.product((False, True), repeat=len(netlist.variables))
    return [oracle.evaluate(netlist, state) for state in states]


@SETTINGS
@given(random_models())
@pytest.mark.parametrize("rewrite", [rebuild, splice, absorb, factor, simplify], ids=lambda f: f.__name__)
def test_a_rewritten_netlist_is_the_same_function(rewrite, model: Model) -> None:  # type: ignore[no-untyped-def]
    netlist = compile_model(model, top_of(model))
    assert _table(rewrite(netlist)) == _table(netlist)


@SETTINGS
@given(random_models())
def test_modules_put_together_are_the_function(model: Model) -> None:
    netlist = compile_model(model, top_of(model))
    modules, sign = split_modules(netlist)
    for state in itertools.product((False, True), repeat=len(netlist.variables)):
        values: list[bool] = []
        for module in modules:
            inputs = tuple(state[i] if i >= 0 else values[~i] for i in module.inputs)
            values.append(oracle.evaluate(module.netlist, inputs))
        assert ((values[-1] if values else False) != bool(sign)) == oracle.evaluate(netlist, state)


@SETTINGS
@given(random_models())
def test_modules_share_no_input_and_rest_at_false(model: Model) -> None:
    modules, _ = split_modules(compile_model(model, top_of(model)))
    inputs = [i for module in modules for i in module.inputs]
    assert len(inputs) == len(set(inputs))
    for module in modules:
        assert not oracle.evaluate(module.netlist, (False,) * len(module.inputs))


@SETTINGS
@given(random_models())
def test_orders_list_every_reachable_variable_once(model: Model) -> None:
    netlist = compile_model(model, top_of(model))
    if netlist.root < 0:
        return
    expected = {node for node in range(len(netlist.variables)) if _reaches(netlist, node)}
    depth_first = order_depth_first(netlist, larger_first=True)
    orders = [depth_first, order_depth_first(netlist, larger_first=False), order_by_weight(netlist)]
    if netlist.is_gate(netlist.root >> 1):
        orders.append(order_force(netlist, depth_first))
    for order in orders:
        assert sorted(order) == sorted(expected)


def _reaches(netlist: Netlist, variable: int) -> bool:
    return netlist.root >> 1 == variable or any(
        a >> 1 == variable for node in netlist.topological() for a in netlist.gate(node).arguments
    )


@SETTINGS
@given(random_models())
def test_negations_are_enclosed_from_both_sides(model: Model) -> None:
    netlist = compile_model(model, top_of(model))
    if netlist.root < 0:
        return
    negated = negated_variables(netlist)
    above, below = drop_negations(netlist), drop_negations(netlist, negated)
    assert is_plainly_monotone(above)
    assert is_plainly_monotone(below)
    for state in itertools.product((False, True), repeat=len(netlist.variables)):
        value = oracle.evaluate(netlist, state)
        assert oracle.evaluate(above, state) or not value
        if not any(state[v] for v in negated):
            assert oracle.evaluate(below, state) == value


def test_gates_equal_up_to_de_morgan_are_one_node() -> None:
    builder = NetBuilder(("a", "b"))
    assert builder.both([0, 2]) == builder.either([1, 3]) ^ 1
    assert builder.at_least(2, [0, 2, 0]) == builder.at_least(2, [1, 3, 1]) ^ 1
    assert len(builder.gates) == 2


def test_constants_fold_away() -> None:
    builder = NetBuilder(("a", "b"))
    assert builder.both([0, FALSE]) == FALSE
    assert builder.either([0, 1]) == TRUE
    assert builder.odd([0, 0, 2]) == 2
    assert builder.at_least(2, [TRUE, 0, 1]) == TRUE
    assert builder.at_least(3, [TRUE, 0, 2]) == builder.both([0, 2])


def test_a_shared_event_keeps_gates_from_being_modules() -> None:
    model = make_model(
        {"g1": either("a", "b"), "g2": either("a", "c"), "g3": both("d", "e"), "top": both("g1", "g2", "g3")},
        dict.fromkeys("abcde", 0.1),
    )
    netlist = compile_model(model, "top")
    kinds = [sorted(netlist.variables[a >> 1] for a in netlist.gate(node).arguments) for node in find_modules(netlist)
             if all(not netlist.is_gate(a >> 1) for a in netlist.gate(node).arguments)]  # fmt: skip
    assert kinds == [["d", "e"]]


def test_a_literal_settled_above_is_absorbed() -> None:
    model = make_model(
        {"inner": either("b", both("a", "c")), "top": both("a", "inner")},
        dict.fromkeys("abc", 0.1),
    )
    netlist = simplify(compile_model(model, "top"))
    a = 2 * netlist.variables.index("a")
    uses = [literal for node in netlist.topological() for literal in netlist.gate(node).arguments if literal == a]
    assert len(uses) == 1


def test_a_common_factor_is_taken_out() -> None:
    model = make_model(
        {"one": both("a", "b"), "two": both("a", "c"), "top": either("one", "two")}, dict.fromkeys("abc", 0.1)
    )
    netlist = simplify(compile_model(model, "top"))
    assert len(split_modules(netlist)[0]) == 2
