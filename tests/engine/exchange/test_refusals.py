"""Every refusal of exchange XML names file, line, element, what is wrong and the mend."""

from __future__ import annotations

import pytest

from faulttree.engine.problems import MAX_PROBLEMS
from tests.engine.exchange.documents import define_events, refuse_tree, refuse_xml, write_tree

E = '<basic-event name="e"/>'
ONE = '<float value="1"/>'
DEFINED = define_events("e", "f") + define_events("pump-a")  # lines 3 and 4; what follows stands on line 5


def _gate(formula: str) -> str:
    return f'{DEFINED}\n<define-gate name="g">{formula}</define-gate>'


def _event(expression: str) -> str:
    return f'{DEFINED}\n<define-basic-event name="x">{expression}</define-basic-event>'


def _group(inside: str, model: str = "MGL") -> str:
    return f'{DEFINED}\n<define-CCF-group name="c" model="{model}">{inside}</define-CCF-group>'


MEMBERS = '<members><basic-event name="e"/><basic-event name="f"/></members>'
TOTAL = '<distribution><float value="0.1"/></distribution>'
FACTOR = '<factors><factor level="2"><float value="0.1"/></factor></factors>'

CASES = {
    "undefined event": (
        _gate('<basic-event name="pump-aa"/>'),
        '<basic-event name="pump-aa">: pump-aa is not defined. Did you mean pump-a?',
    ),
    "undefined event like no other": (
        _gate('<gate name="tank"/>'),
        '<gate name="tank">: tank is not defined. Define it or correct the name.',
    ),
    "reference without name": (
        _gate("<or><gate/></or>"),
        "<gate>: An event without a name is not defined. Define it or correct the name.",
    ),
    "reference of another kind": (
        _gate('<gate name="e"/>'),
        '<gate name="e">: e is defined as a basic-event, not as a gate. '
        'Write <basic-event name="..."/> or the general <event name="..."/>.',
    ),
    "general reference with a wrong type": (
        _gate('<event name="e" type="gate"/>'),
        '<event name="e">: e is defined as a basic-event, not as a gate. '
        'Write <basic-event name="..."/> or the general <event name="..."/>.',
    ),
    "undefined parameter": (
        _event('<parameter name="rate"/>'),
        '<parameter name="rate">: The parameter rate is not defined. Define it or correct the name.',
    ),
    "unknown connective": (
        _gate("<inhibit/>"),
        "<inhibit>: <inhibit> is not a connective. Use and, atleast, cardinality, iff, imply, nand, nor, not, or, xor.",
    ),
    "no formula": (
        _gate(""),
        '<define-gate name="g">: One formula is wanted here; there is none. Put one formula inside.',
    ),
    "two formulas": (
        _gate(E + E),
        '<define-gate name="g">: One formula is wanted here; there are 2. Put one formula inside.',
    ),
    "missing min": (
        _gate(f"<atleast>{E}</atleast>"),
        '<atleast>: The attribute min is missing. Write min="2", for instance.',
    ),
    "min in words": (
        _gate(f'<atleast min="two">{E}</atleast>'),
        "<atleast>: min='two' is not a whole number. Write min=\"2\", for instance.",
    ),
    "negative max": (
        _gate(f'<cardinality min="0" max="-1">{E}</cardinality>'),
        "<cardinality>: max='-1' is not a whole number. Write max=\"2\", for instance.",
    ),
    "constant": (
        _gate('<constant value="1"/>'),
        '<constant>: The constant \'1\' is neither true nor false. Write value="true" or "false".',
    ),
    "house event": (
        f'{DEFINED}\n<define-house-event name="h"><float value="1"/></define-house-event>',
        '<define-house-event name="h">: A house event is true or false. Write <constant value="true"/> or "false".',
    ),
    "two expressions": (
        _event(ONE + ONE),
        '<define-basic-event name="x">: One expression is wanted here; there are 2. Put one expression inside.',
    ),
    "number": (_event('<float value="1,5"/>'), "<float>: '1,5' is not a number. Write value=\"1.5e-3\", for instance."),
    "not a number": (_event('<float value="nan"/>'), "<float>: 'nan' is not a number."),
    "infinite number": (_event('<float value="1e999"/>'), "<float>: '1e999' is not a number."),
    "number with underscores": (_event('<float value="1_000"/>'), "<float>: '1_000' is not a number."),
    "unknown function": (
        _event("<gompertz/>"),
        "<gompertz>: The expression <gompertz> is not supported. "
        "It is not one of the supported functions; rewrite the expression without it.",
    ),
    "external function": (
        _event('<extern-function name="own"/>'),
        '<extern-function name="own">: The expression <extern-function> is not supported.',
    ),
    "periodic test of eleven arguments": (
        _event(f"<periodic-test>{ONE * 11}</periodic-test>"),
        "<periodic-test>: The periodic test with 11 arguments is not supported. "
        "Use the form with 4 or 5 arguments (instantaneous tests).",
    ),
    "number of arguments": (
        _event(f"<exponential>{ONE}</exponential>"),
        "<exponential>: exponential has 1 argument. It takes 2: failure rate per hour, time in hours.",
    ),
    "histogram without bins": (
        _event(f"<histogram>{ONE}</histogram>"),
        "<histogram>: histogram has 1 argument. It takes an odd number, 3 or more: start, upper bound 1, value 1, ...",
    ),
    "bin of one": (
        _event(f"<histogram>{ONE}<bin>{ONE}</bin><bin>{ONE}</bin></histogram>"),
        "<bin>: A bin takes 2 expressions, not 1. Correct it.",
    ),
    "bin elsewhere": (_event(f"<add><bin>{ONE}{ONE}</bin></add>"), "<bin>: The expression <bin> is not supported."),
    "parameter without value": (
        f'{DEFINED}\n<define-parameter name="p"/>',
        '<define-parameter name="p">: One expression is wanted here; there is none.',
    ),
    "unit": (
        f'{DEFINED}\n<define-parameter name="p" unit="days">{ONE}</define-parameter>',
        "<define-parameter name=\"p\">: The unit 'days' is not known. "
        "Use one of bool, int, float, hours, hours-1, years, years-1, fit, demands.",
    ),
    "missing name": (
        f"{DEFINED}\n<define-basic-event/>",
        "<define-basic-event>: The name is missing. "
        "Use a letter, then letters, digits, hyphens or underscores; no dot, no blank, at most 200.",
    ),
    "name with a dot": (f'{DEFINED}\n<define-basic-event name="a.b"/>', "'a.b' is not a name."),
    "name with a blank": (f'{DEFINED}\n<define-basic-event name="a b"/>', "'a b' is not a name."),
    "long name": (f'{DEFINED}\n<define-basic-event name="{"a" * 201}"/>', "is not a name."),
    "role": (
        f'{DEFINED}\n<define-basic-event name="x" role="secret"/>',
        '<define-basic-event name="x">: The role \'secret\' is not known. Write "public" or "private".',
    ),
    "name twice": (
        f'{DEFINED}\n<define-basic-event name="e"/>',
        '<define-basic-event name="e">: The name e is given to more than one gate or event. Rename one of them.',
    ),
    "name of two kinds": (
        f'{DEFINED}\n<define-house-event name="e"/>',
        '<define-house-event name="e">: The name e is given to more than one gate or event. Rename one of them.',
    ),
    "public name in two scopes": (
        f'{DEFINED}\n<define-component name="c"><define-gate name="e">{ONE}</define-gate></define-component>',
        "The name e is given to more than one gate or event.",
    ),
    "parameter twice": (
        f'{DEFINED}<define-parameter name="p">{ONE}</define-parameter>\n'
        f'<define-parameter name="p">{ONE}</define-parameter>',
        "The name p is given to more than one parameter.",
    ),
    "component twice": (
        f'{DEFINED}<define-component name="c"/>\n<define-component name="c"/>',
        '<define-component name="c">: t.c is defined twice. Rename one of the two.',
    ),
    "unknown element": (
        f"{DEFINED}\n<define-gadget/>",
        "<define-gadget>: <define-gadget> has no place in <define-fault-tree>. What is read there: <define-component>, "
        "<define-gate>, <define-basic-event>, <define-house-event>, <define-parameter>, <define-CCF-group>.",
    ),
    "tree in a tree": (
        f'{DEFINED}\n<define-fault-tree name="u"/>',
        '<define-fault-tree name="u">: <define-fault-tree> has no place in <define-fault-tree>.',
    ),
    "substitution": (
        f"{DEFINED}\n<define-substitution/>",
        "<define-substitution>: Substitutions are not supported. "
        "Remove it; fault trees, components, model data and common-cause groups are read.",
    ),
    "include": (f'{DEFINED}\n<include file="other.xml"/>', "<include>: Includes of other files are not supported."),
    "second label": (f"{DEFINED}\n<label>a</label><label>b</label>", "<label>: There is a second label. Keep one."),
    "label with elements": (
        f"{DEFINED}\n<label>a<b/></label>",
        "<label>: A label holds text only. Remove the elements inside.",
    ),
    "elements in a reference": (
        _gate(f'<event name="e">{E}</event>'),
        '<basic-event name="e">: <event> holds no other elements. Remove what is inside.',
    ),
    "elements in a number": (_event(f'<float value="1">{ONE}</float>'), "<float>: <float> holds no other elements."),
    "attribute of another name": (
        f"{DEFINED}\n<attributes><note/></attributes>",
        '<note>: <note> is not an attribute. Write <attribute name="..." value="..."/>.',
    ),
    "common-cause model": (
        _group(MEMBERS + TOTAL + FACTOR, "gamma"),
        "<define-CCF-group name=\"c\">: The common-cause model 'gamma' is not known. "
        "Use beta-factor, MGL, alpha-factor, phi-factor.",
    ),
    "group without members": (
        _group(TOTAL + FACTOR),
        '<define-CCF-group name="c">: <members> is missing. Add <members> to the group.',
    ),
    "group without distribution": (
        _group(MEMBERS + FACTOR),
        '<define-CCF-group name="c">: <distribution> is missing. Add <distribution> to the group.',
    ),
    "two distributions": (
        _group(MEMBERS + TOTAL + TOTAL + FACTOR),
        "<distribution>: There is a second <distribution>. Keep one.",
    ),
    "unknown part of a group": (
        _group(MEMBERS + TOTAL + FACTOR + "<factor-list/>"),
        "<factor-list>: <factor-list> is not a part of a group. Remove it or correct its name.",
    ),
    "factor outside": (
        _group(MEMBERS + TOTAL + FACTOR + f"<factor>{ONE}</factor>"),
        "<factor>: A factor stands outside <factors>. Move it into <factors>.",
    ),
    "unknown member": (
        _group(MEMBERS.replace('"f"', '"pump_a"') + TOTAL + FACTOR),
        '<basic-event name="pump_a">: The member pump_a is not defined. Did you mean pump-a?',
    ),
    "gate as a member": (
        f'<define-gate name="g">{E}</define-gate>' + _group(MEMBERS.replace('"f"', '"g"') + TOTAL + FACTOR),
        '<basic-event name="g">: The member g is a gate. Members of a group are basic events.',
    ),
    "level": (
        _group(MEMBERS + TOTAL + FACTOR.replace('"2"', '"two"')),
        "<factor>: The level 'two' is not a whole number. Write how many members fail together.",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_refusal(name: str) -> None:
    body, expected = CASES[name]
    problem = refuse_tree(body)[0]
    assert expected in str(problem)
    assert problem.line == 5
    assert str(problem).startswith("t.xml, line 5: <")


def test_a_root_of_another_kind_is_refused() -> None:
    [problem] = refuse_xml(b"<svg/>")
    assert str(problem) == "t.xml, line 1: <svg>: The root element is <svg>. An exchange file starts with <opsa-mef>."


def test_event_trees_and_gates_outside_a_tree_are_refused() -> None:
    first, second = refuse_tree("", outside='<define-event-tree name="v"/><define-gate name="g"/>')
    assert "Event trees are not supported." in str(first)
    assert "<define-gate> has no place in <opsa-mef>." in str(second)


def test_gates_in_model_data_are_refused() -> None:
    [problem] = refuse_tree("", '<define-gate name="g"><constant value="true"/></define-gate>')
    assert "<define-gate> has no place in <model-data>." in str(problem)


def test_all_problems_are_listed_at_once_in_the_order_of_the_file() -> None:
    problems = refuse_tree(_gate('<or><gate name="x1"/>\n<gate name="x2"/>\n<gate name="x3"/></or>'))
    assert [problem.line for problem in problems] == [5, 6, 7]


def test_past_the_first_hundred_problems_it_is_said_that_there_may_be_more() -> None:
    problems = refuse_tree(_gate("<or>" + '<gate name="gone"/>' * 3 * MAX_PROBLEMS + "</or>"))
    assert len(problems) == MAX_PROBLEMS + 1
    assert problems[-1].message == f"There are at least {MAX_PROBLEMS} problems; only these are listed."


def test_a_name_with_line_ends_or_of_great_length_stays_one_bearable_line() -> None:
    source = write_tree(_gate(f'<gate name="a&#10;{"b" * 100_000}"/>'))
    [problem] = refuse_xml(source)
    assert len(str(problem)) < 1_500


def test_suggestions_stay_quick_in_a_large_model() -> None:
    names = define_events(*(f"event-{i}" for i in range(20_000)))
    wrong = "".join(f'<gate name="event_{i}"/>' for i in range(50))
    problems = refuse_xml(write_tree(f'{names}<define-gate name="g"><or>{wrong}</or></define-gate>'))
    assert len(problems) == 50
