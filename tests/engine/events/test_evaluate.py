"""Values of expressions against a naive evaluator, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from faulttree.engine.errors import BadModel
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.events.functions import FUNCTIONS
from faulttree.engine.events.sampling import Sampling
from faulttree.engine.model import Call, Expression, MissionTime, Number, ParameterReference
from tests.engine.events.builders import TIME, call, make_events

PLAIN: dict[str, Callable[..., float]] = {
    "add": lambda *x: math.fsum(x),
    "sub": lambda x, *rest: x - math.fsum(rest),
    "mul": lambda *x: math.prod(x),
    "min": min,
    "max": max,
    "mean": lambda *x: math.fsum(x) / len(x),
    "neg": lambda x: -x,
    "abs": abs,
    "floor": math.floor,
    "ceil": math.ceil,
    "atan": math.atan,
    "tanh": math.tanh,
    "not": lambda x: float(x == 0.0),
    "and": lambda *x: float(all(x)),
    "or": lambda *x: float(any(x)),
    "lt": lambda x, y: float(x < y),
    "gt": lambda x, y: float(x > y),
    "leq": lambda x, y: float(x <= y),
    "geq": lambda x, y: float(x >= y),
    "eq": lambda x, y: float(x == y),
    "df": lambda x, y: float(x != y),
    "pi": lambda: math.pi,
}


def naive(expression: Expression, time: float, parameters: dict[str, float]) -> float:
    """Value of an expression at one time, one number after the other."""
    if isinstance(expression, Number):
        return expression.value
    if isinstance(expression, MissionTime):
        return time
    if isinstance(expression, ParameterReference):
        return parameters[expression.name]
    values = [naive(argument, time, parameters) for argument in expression.arguments]
    if expression.function in ("ite", "switch"):
        chosen = [v for c, v in zip(values[:-1:2], values[1::2], strict=True) if c != 0.0]
        return [*chosen, values[-1]][0]
    return PLAIN[expression.function](*values)


def _calls(children: st.SearchStrategy[Expression]) -> st.SearchStrategy[Expression]:
    def arguments_of(name: str) -> st.SearchStrategy[Expression]:
        function = FUNCTIONS[name]
        counts = [n for n in range(function.least, min(function.most, 5) + 1) if function.accepts(n)]
        lists = st.sampled_from(counts).flatmap(lambda n: st.lists(children, min_size=n, max_size=n))
        return lists.map(lambda arguments: Call(name, tuple(arguments)))

    return st.sampled_from([*PLAIN, "ite", "switch"]).flatmap(arguments_of)


EXPRESSIONS: st.SearchStrategy[Expression] = st.recursive(
    st.one_of(
        st.integers(-3, 3).map(lambda n: Number(float(n))),
        st.sampled_from([TIME, ParameterReference("a"), ParameterReference("b")]),
    ),
    _calls,
    max_leaves=12,
)


@given(EXPRESSIONS)
def test_values_over_a_time_grid_are_those_of_a_naive_evaluator(expression: Expression) -> None:
    model = make_events({}, {"a": call("add", "b", 0.5), "b": -1.0})
    times = np.array([0.0, 1.0, 2.5])
    expected = [naive(expression, t, {"a": -0.5, "b": -1.0}) for t in times]
    found = np.broadcast_to(Evaluator(model, times).value("x", expression), times.shape)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "arguments", "expected"),
    [
        ("div", (12.0, 3.0, 2.0), 2.0),
        ("sub", (10.0, 3.0, 2.0), 5.0),
        ("pow", (2.0, 10.0), 1024.0),
        ("mod", (7.5, 2.0), 1.5),
        ("exp", (1.0,), math.e),
        ("log", (math.e,), 1.0),
        ("log10", (1000.0,), 3.0),
        ("sqrt", (2.25,), 1.5),
        ("sin", (0.3,), math.sin(0.3)),
        ("cos", (0.3,), math.cos(0.3)),
        ("tan", (0.3,), math.tan(0.3)),
        ("asin", (0.3,), math.asin(0.3)),
        ("acos", (0.3,), math.acos(0.3)),
        ("sinh", (0.3,), math.sinh(0.3)),
        ("cosh", (0.3,), math.cosh(0.3)),
    ],
)
def test_arithmetic_has_its_usual_meaning(name: str, arguments: tuple[float, ...], expected: float) -> None:
    assert float(Evaluator(make_events({}), None).value("x", call(name, *arguments))) == pytest.approx(expected)


def test_every_function_of_the_table_has_a_value_here() -> None:
    good = {
        "lognormal-deviate": (0.1, 3.0, 0.95),
        "uniform-deviate": (0.1, 0.2),
        "histogram": (0.0, 1.0, 0.5),
        "asin": (0.5,),
        "acos": (0.5,),
        "GLM": (0.1, 0.2, 0.3, 4.0),
    }
    for name, function in FUNCTIONS.items():
        arguments = good.get(name, (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)[: function.least])
        assert np.isfinite(Evaluator(make_events({}), None).value("x", call(name, *arguments)))


def test_a_chain_of_a_hundred_thousand_parameters_needs_no_recursion() -> None:
    names = [f"p{i}" for i in range(100_000)]
    links = {name: call("add", below, 1.0) for name, below in zip(names[1:], names, strict=False)}
    model = make_events({}, {**links, "p0": 0.0})
    assert float(Evaluator(model, None).value("x", ParameterReference(names[-1]))) == 99_999.0


def test_a_branch_that_is_not_chosen_may_have_no_value() -> None:
    guarded = call("ite", call("eq", TIME, 0.0), 0.25, call("div", 1.0, TIME))
    found = Evaluator(make_events({}), np.array([0.0, 2.0, 4.0])).value("x", guarded)
    assert found == pytest.approx([0.25, 0.5, 0.25])
    switched = call(
        "switch", call("leq", TIME, 1.0), 1.0, call("lt", TIME, 3.0), call("log", call("sub", TIME, 1.0)), 7.0
    )
    found = Evaluator(make_events({}), np.array([0.0, 2.0, 4.0])).value("x", switched)
    assert found == pytest.approx([1.0, 0.0, 7.0])


def test_a_rate_may_be_wrong_only_where_its_branch_is_not_chosen() -> None:
    rate = call("sub", TIME, 5.0)
    guarded = call("ite", call("lt", TIME, 5.0), 0.0, call("exponential", rate, TIME))
    found = Evaluator(make_events({}), np.array([1.0, 6.0])).value("x", guarded)
    assert found == pytest.approx([0.0, 1.0 - math.exp(-6.0)])
    with pytest.raises(BadModel, match=r"x: The failure rate of exponential is -4"):
        Evaluator(make_events({}), np.array([1.0, 6.0])).value(
            "x", call("ite", 1.0, call("exponential", rate, TIME), 0.0)
        )


@pytest.mark.parametrize(
    ("expression", "message"),
    [
        (call("div", 1.0, 0.0), "div gives no finite number"),
        (call("log", 0.0), "log gives no finite number"),
        (call("sqrt", -1.0), "sqrt gives no finite number"),
        (call("exp", 1e6), "exp gives no finite number"),
        (call("exponential", -1e-4, 10.0), "The failure rate of exponential is -0.0001; it must be 0 or more."),
        (call("GLM", 1.5, 0.1, 0.1, 1.0), "The probability on demand of GLM is 1.5; it must be from 0 to 1."),
        (call("GLM", 0.5, 0.1, -0.1, 1.0), "The repair rate of GLM is -0.1"),
        (call("Weibull", 0.0, 1.0, 0.0, 1.0), "The scale of Weibull is 0; it must be above 0."),
        (call("Weibull", 1.0, -1.0, 0.0, 1.0), "The shape of Weibull is -1"),
        (call("periodic-test", 0.1, 0.0, 0.0, 1.0), "The test interval of periodic-test is 0; it must be above 0."),
        (call("uniform-deviate", 2.0, 1.0), "The lower bound is above the upper bound."),
        (call("exponential", 1e-4, TIME), "depends on the mission time, and none is given. Give a mission time"),
        (call("extern-function", 1.0), "extern-function with 1 arguments is no function known here"),
        (call("switch", 1.0, 2.0), "switch with 2 arguments is no function known here. It takes an odd number"),
        (call("periodic-test", *[1.0] * 11), "periodic-test with 11 arguments is no function known here"),
    ],
)
def test_what_has_no_value_is_refused_by_name(expression: Expression, message: str) -> None:
    with pytest.raises(BadModel) as refusal:
        Evaluator(make_events({}), None).value("basic event valve", expression)
    assert str(refusal.value).startswith("basic event valve: ")
    assert message in str(refusal.value)


def test_the_parameter_at_fault_is_named() -> None:
    model = make_events({}, {"rate": call("div", 1.0, "hours"), "hours": 0.0})
    with pytest.raises(BadModel, match="parameter rate: div gives no finite number"):
        Evaluator(model, 1.0).value("basic event valve", call("exponential", "rate", TIME))


def test_deviates_stand_at_their_mean_outside_sampling() -> None:
    expression = call("add", call("uniform-deviate", 0.1, 0.3), call("lognormal-deviate", 0.01, 10.0, 0.95))
    assert float(Evaluator(make_events({}), None).value("x", expression)) == pytest.approx(0.21)


def test_a_draw_is_shared_through_its_parameter_and_not_otherwise() -> None:
    deviate = call("uniform-deviate", 0.0, 1.0)
    evaluator = Evaluator(make_events({}, {"shared": deviate}), None, Sampling(500, 3, "monte-carlo", 0, 500))
    shared = [evaluator.value(owner, ParameterReference("shared")) for owner in ("x", "y")]
    own = [evaluator.value(owner, deviate) for owner in ("x", "y")]
    twice = evaluator.value("z", call("sub", deviate, deviate))
    assert np.array_equal(shared[0], shared[1])
    assert not np.any(own[0] == own[1])
    assert not np.any(twice == 0.0)


def test_draws_outside_the_range_of_a_rate_are_cut_and_counted() -> None:
    evaluator = Evaluator(make_events({}), 10.0, Sampling(1000, 1, "latin-hypercube", 0, 1000))
    q = evaluator.value("x", call("exponential", call("uniform-deviate", -0.01, 0.03), TIME))
    assert evaluator.clipped == 250
    assert np.count_nonzero(q == 0.0) == 250
    assert q.max() == pytest.approx(1.0 - math.exp(-0.3), rel=1e-3)


def test_a_drawn_test_interval_of_zero_is_refused() -> None:
    evaluator = Evaluator(make_events({}), 10.0, Sampling(100, 1, "latin-hypercube", 0, 100))
    with pytest.raises(BadModel, match="test interval"):
        evaluator.value("x", call("periodic-test", 0.1, call("uniform-deviate", -1.0, 1.0), 0.0, TIME))
