"""A model that makes no sense is refused with every fault at once, each with its place and its mend."""

from __future__ import annotations

import pytest

from faulttree.engine.checks.values import find_timed_parameters
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import (
    BasicEvent,
    Call,
    CommonCauseGroup,
    Expression,
    Formula,
    Gate,
    HouseEvent,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Placing,
    Reference,
    Truth,
)
from faulttree.engine.validate import check_model, choose_top, find_tops
from tests.engine.models import both, combine, either, make_model

T = MissionTime()


def refuse(model: Model) -> list[Problem]:
    """Problems for which a model is refused; each is whole and one line."""
    with pytest.raises(BadModel) as refused:
        check_model(model, file="t.xml")
    for problem in refused.value.problems:
        assert problem.file == "t.xml"
        assert problem.mend
        assert "\n" not in str(problem)
    return list(refused.value.problems)


def refuse_formula(formula: Formula) -> str:
    """What is said of one gate over the events a and b."""
    [problem] = refuse(make_model({"g": formula}, {"a": 0.1, "b": 0.1}))
    assert problem.element == "gate g"
    return f"{problem.message} {problem.mend}"


def refuse_expression(expression: Expression, **parameters: Expression) -> str:
    """What is said of one basic event over these parameters."""
    [problem] = refuse(make_parametric(expression, **parameters))
    return f"{problem.element}: {problem.message} {problem.mend}"


def make_parametric(expression: Expression, **parameters: Expression) -> Model:
    """A model of one event, on line 7, and parameters, on lines 1, 2, ..."""
    return Model(
        basic_events={"e": BasicEvent("e", expression, Placing(line=7))},
        parameters={
            name: Parameter(name, body, placing=Placing(line=i)) for i, (name, body) in enumerate(parameters.items(), 1)
        },
    )


def number(value: float) -> Number:
    return Number(float(value))


def call(function: str, *arguments: Expression | float) -> Call:
    return Call(function, tuple(Number(float(a)) if isinstance(a, int | float) else a for a in arguments))


def test_a_sound_model_passes() -> None:
    model = make_model(
        {"top": combine("atleast", "a", "b", "g", low=2), "g": both("a", "-h")},
        {"a": 0.0, "b": 1.0, "unused": 0.5},
        {"h": True},
    )
    check_model(model)


@pytest.mark.parametrize(
    ("formula", "said"),
    [
        (combine("not", "a", "b"), "not has 2 arguments. Give it exactly 1."),
        (combine("imply", "a"), "imply has 1 argument. Give it exactly 2."),
        (combine("imply", "a", "b", "a"), "imply has 3 arguments. Give it exactly 2."),
        (combine("iff", "a"), "iff has 1 argument. Give it at least 2."),
        (combine("and"), "and has 0 arguments. Give it at least 1."),
        (
            combine("atleast", "a", "b", low=3),
            "3 of 2 arguments can't be true. Set min and max to 2 or less, or add arguments.",
        ),
        (combine("atleast", "a", "b", low=0), "At least 0 of 2 is always true. Set min to 1 or more."),
        (
            combine("cardinality", "a", "b", low=0, high=3),
            "3 of 2 arguments can't be true. Set min and max to 2 or less, or add arguments.",
        ),
        (combine("cardinality", "a", "b", low=2, high=1), "min=2 is above max=1. Exchange the two."),
        (combine("cardinality", "a", "b", low=-1, high=1), "min=-1 is negative. Set min to 0 or more."),
        (either("a", both("b", combine("not", "a", "b"))), "not has 2 arguments. Give it exactly 1."),
        (either("a", "bb"), "bb is not defined. Define it or correct the name."),
    ],
)
def test_formulas(formula: Formula, said: str) -> None:
    assert refuse_formula(formula) == said


def test_near_names_are_suggested() -> None:
    [problem] = refuse(make_model({"g": either("pump-1", "pump-3")}, {"pump-1": 0.1, "pump-2": 0.1, "valve": 0.1}))
    assert problem.mend == "Did you mean pump-2 or pump-1?"


def test_a_name_of_two_kinds_is_refused() -> None:
    model = Model(
        gates={"x": Gate("x", Truth(True))},
        basic_events={"x": BasicEvent("x", None, Placing(line=4))},
        house_events={"y": HouseEvent("y")},
    )
    [problem] = refuse(model)
    assert str(problem) == "t.xml, line 4: basic event x: The name is also that of a gate. Rename one of the two."


def test_a_cycle_is_printed_whole() -> None:
    model = make_model(
        {"top": either("g1", "a"), "g1": both("g2", "a"), "g2": either("g3"), "g3": both("g1")}, {"a": 0.1}
    )
    [problem] = refuse(model)
    assert problem.element == "gate g1"
    assert problem.message == "The definition goes round in a circle: g1 > g2 > g3 > g1."
    assert problem.mend == "Break the circle at one of these."


def test_the_shortest_way_round_is_printed() -> None:
    gates: dict[str, Formula] = {f"g{i}": either(f"g{i + 1}") for i in range(50)}
    gates["g0"] = either("g1", "g49")
    gates["g50"] = either("g0")
    [problem] = refuse(make_model(gates, {}))
    assert problem.message == "The definition goes round in a circle: g0 > g49 > g50 > g0."


def test_a_gate_below_itself_and_separate_cycles_are_each_told() -> None:
    problems = refuse(make_model({"x": either("x"), "y": both("z"), "z": both("y")}, {}))
    assert sorted(problem.message for problem in problems) == [
        "The definition goes round in a circle: x > x.",
        "The definition goes round in a circle: y > z > y.",
    ]


def test_a_cycle_of_five_thousand_gates_is_found() -> None:
    gates = {f"g{i}": either(f"g{(i + 1) % 5_000}", "a") for i in range(5_000)}
    [problem] = refuse(make_model(gates, {"a": 0.1}))
    assert problem.message.startswith("The definition goes round in a circle: g0 > g1 > g2 >")
    assert "> g99 > (4,801 more) > g4901 >" in problem.message
    assert problem.message.endswith("> g4999 > g0.")


def test_a_chain_of_five_thousand_gates_passes() -> None:
    gates = {f"g{i}": either(f"g{i + 1}", "a") for i in range(4_999)} | {"g4999": both("a")}
    check_model(make_model(gates, {"a": 0.1}))


def test_a_cycle_of_parameters_is_refused() -> None:
    model = make_parametric(number(0.1), p=ParameterReference("q"), q=call("neg", ParameterReference("p")))
    [problem] = refuse(model)
    assert str(problem) == (
        "t.xml, line 1: parameter p: The definition goes round in a circle: p > q > p. "
        "Break the circle at one of these."
    )


def test_a_chain_of_five_thousand_parameters_passes() -> None:
    chain = {f"p{i}": call("mul", ParameterReference(f"p{i + 1}"), 1.0) for i in range(4_999)}
    check_model(make_parametric(ParameterReference("p0"), **chain, p4999=number(0.5)))


def test_an_undefined_parameter_is_refused() -> None:
    said = refuse_expression(ParameterReference("rate-pmp"), **{"rate-pump": number(0.1)})
    assert said == "basic event e: The parameter rate-pmp is not defined. Did you mean rate-pump?"


@pytest.mark.parametrize("value", [-0.1, 1.1, -1e-9, 1.0 + 1e-9])
def test_probabilities_outside_their_range_are_refused(value: float) -> None:
    said = refuse_expression(number(value))
    assert said == f"basic event e: The probability is {value:g}, outside [0, 1]. Give a number from 0 to 1."


def test_a_probability_that_a_parameter_gives_is_checked_too() -> None:
    said = refuse_expression(call("mul", ParameterReference("p"), 3.0), p=number(0.5))
    assert said == "basic event e: The probability is 1.5, outside [0, 1]. Give a number from 0 to 1."


@pytest.mark.parametrize(
    ("expression", "said"),
    [
        (call("exponential", -1e-5, T), "The failure rate of exponential is -1e-05; it must be 0 or more. Correct it."),
        (
            call("exponential", ParameterReference("p"), T),
            "The failure rate of exponential is -2; it must be 0 or more. Correct it.",
        ),
        (call("exponential", -1.0, 24.0), "The failure rate of exponential is -1; it must be 0 or more. Correct it."),
        (call("GLM", 0.1, 1e-3, -0.1, T), "The repair rate of GLM is -0.1; it must be 0 or more. Correct it."),
        (
            call("GLM", 1.5, 1e-3, 0.1, T),
            "The probability on demand of GLM is 1.5; it must be from 0 to 1. Correct it.",
        ),
        (call("Weibull", 0.0, 2.0, 0.0, T), "The scale of Weibull is 0; it must be above 0. Correct it."),
        (
            call("periodic-test", 1e-3, -1.0, 0.0, T),
            "The test interval of periodic-test is -1; it must be above 0. Correct it.",
        ),
        (
            call("periodic-test", 1e-3, -0.5, 720.0, 0.0, T),
            "The repair rate of periodic-test is -0.5; it must be 0 or more. Correct it.",
        ),
        (
            call("mul", 0.5, call("exponential", -1.0, T)),
            "The failure rate of exponential is -1; it must be 0 or more.",
        ),
        (call("div", 1.0, 0.0), "div gives no finite number here. Check its arguments."),
        (call("log", -1.0), "log gives no finite number here. Check its arguments."),
        (call("gompertz", 1.0), "gompertz with 1 arguments is no function known here."),
    ],
)
def test_numbers_that_can_be_had_without_a_mission_time_are_checked(expression: Expression, said: str) -> None:
    assert said in refuse_expression(expression, p=number(-2.0))


def test_a_wrong_parameter_is_told_once_at_its_own_line() -> None:
    rate = call("exponential", ParameterReference("p"), 1.0)
    model = make_parametric(rate, p=call("div", 1.0, 0.0))
    more = {f"e{i}": BasicEvent(f"e{i}", rate) for i in range(5)}
    [problem] = refuse(Model(basic_events={**model.basic_events, **more}, parameters=model.parameters))
    assert (problem.element, problem.line) == ("parameter p", 1)


def test_what_depends_on_the_mission_time_waits_for_it() -> None:
    guarded = call("ite", call("gt", T, 10.0), call("div", 1.0, 0.0), 0.5)
    check_model(make_parametric(call("mul", T, 1e9)))
    check_model(make_parametric(guarded))
    check_model(make_parametric(call("exponential", ParameterReference("p"), T), p=call("sub", T, 5.0)))


def test_parameters_that_need_the_mission_time_are_found_through_others() -> None:
    model = make_parametric(
        number(0.1), a=number(1.0), b=T, c=ParameterReference("b"), d=call("add", ParameterReference("c"), 1.0)
    )
    assert find_timed_parameters(model) == {"b", "c", "d"}


def make_group(model: str, factors: dict[int, float], members: str = "abc", total: float = 0.1) -> Model:
    """A model with one common-cause group, on line 9, over some of the events a, b, c, d."""
    items = tuple((level, number(factor)) for level, factor in factors.items())
    group = CommonCauseGroup("pumps", model, tuple(members), number(total), items, Placing(line=9))
    return Model(
        basic_events={name: BasicEvent(name) for name in "abcd"},
        gates={"g": Gate("g", Reference("a"))},
        common_cause_groups={"pumps": group},
    )


@pytest.mark.parametrize(
    "model",
    [
        make_group("beta-factor", {2: 0.1}),
        make_group("beta-factor", {3: 0.1}),
        make_group("MGL", {2: 0.1, 3: 0.2}),
        make_group("alpha-factor", {1: 0.9, 2: 0.06, 3: 0.04}),
        make_group("phi-factor", {1: 0.9, 2: 0.07, 3: 0.03}),
    ],
)
def test_groups_with_fitting_factors_pass(model: Model) -> None:
    check_model(model)


@pytest.mark.parametrize(
    ("model", "said"),
    [
        (
            make_group("beta-factor", {2: 0.1, 3: 0.1}),
            "beta-factor with 3 members has factors for the levels 2, 3. Give one factor for the level 3.",
        ),
        (
            make_group("MGL", {2: 0.1}),
            "MGL with 3 members has factors for the levels 2. Give one factor for each of the levels 2, 3.",
        ),
        (
            make_group("alpha-factor", {2: 0.1, 3: 0.1}),
            "alpha-factor with 3 members has factors for the levels 2, 3. "
            "Give one factor for each of the levels 1, 2, 3.",
        ),
        (
            make_group("phi-factor", {}),
            "phi-factor with 3 members has no factors. Give one factor for each of the levels 1, 2, 3.",
        ),
        (
            make_group("gamma", {}),
            "There is no common-cause model gamma. Use beta-factor, MGL, alpha-factor, phi-factor.",
        ),
        (make_group("MGL", {}, "a"), "The group has 1 member. A group needs two or more."),
        (
            make_group("MGL", {2: 0.1, 3: 0.1}, "abz"),
            "The member z is not a basic event. Define it or correct the name.",
        ),
        (
            make_group("MGL", {2: 0.1, 3: 0.1}, "abg"),
            "The member g is not a basic event. Define it or correct the name.",
        ),
        (
            make_group("MGL", {2: 0.1, 3: 0.1}, "aba"),
            "a is already a member of pumps. An event is a member of one group, once.",
        ),
        (make_group("MGL", {2: 0.1, 3: 1.5}), "The factor 3 is 1.5, outside [0, 1]. Give a number from 0 to 1."),
        (
            make_group("MGL", {2: 0.1, 3: 0.5}, total=2.0),
            "The probability is 2, outside [0, 1]. Give a number from 0 to 1.",
        ),
        (
            make_group("phi-factor", {1: 0.5, 2: 0.2, 3: 0.1}),
            "The phi factors add up to 0.8. They are shares of a member's total and must add up to 1.",
        ),
    ],
)
def test_groups_that_do_not_fit_are_refused(model: Model, said: str) -> None:
    [problem] = refuse(model)
    assert str(problem) == f"t.xml, line 9: common-cause group pumps: {said}"


def test_an_event_of_two_groups_is_refused() -> None:
    first = make_group("MGL", {2: 0.1}, "ab").common_cause_groups["pumps"]
    second = CommonCauseGroup("others", "MGL", ("b", "c"), number(0.1), ((2, number(0.1)),))
    model = Model(
        basic_events={name: BasicEvent(name) for name in "abc"},
        common_cause_groups={"pumps": first, "others": second},
    )
    [problem] = refuse(model)
    assert problem.element == "common-cause group others"
    assert problem.message == "b is already a member of pumps."


def test_all_faults_are_told_at_once() -> None:
    model = make_model(
        {"g": either("g", "gone", combine("atleast", "a", low=2))}, {"a": 1.5, "b": call("exponential", -1.0, T)}
    )
    assert len(refuse(model)) == 5


def test_tops_are_the_gates_that_no_gate_uses() -> None:
    model = make_model({"t1": either("g"), "g": both("a"), "t2": both("g", "a")}, {"a": 0.1})
    assert find_tops(model) == ("t1", "t2")
    assert choose_top(model, "g") == "g"
    with pytest.raises(BadModel) as refused:
        choose_top(model)
    assert str(refused.value) == "top: There are 2 top events: t1, t2. Choose one of them."


def test_the_only_top_is_chosen() -> None:
    assert choose_top(make_model({"g": both("a"), "top": either("g")}, {"a": 0.1})) == "top"


@pytest.mark.parametrize(
    ("model", "top", "said"),
    [
        (make_model({}, {"a": 0.1}), None, "top: The model has no gate. Define at least one gate."),
        (make_model({"x": both("x")}, {}), None, "top: Every gate is below another one. Break the circle."),
        (make_model({"leak": both("a")}, {"a": 0.1}), "leek", "top: There is no gate leek. Did you mean leak?"),
        (make_model({"leak": both("a")}, {"a": 0.1}), "a", "top: There is no gate a. Name one of the gates."),
    ],
)
def test_a_top_that_can_not_be_chosen_is_refused(model: Model, top: str | None, said: str) -> None:
    with pytest.raises(BadModel) as refused:
        choose_top(model, top)
    assert str(refused.value) == said
