"""The plain JSON form: what it holds, what is refused, and that its schema says the same as the reader."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from faulttree.engine.events.functions import FUNCTIONS
from faulttree.engine.exchange.json_schema import load_schema
from faulttree.engine.exchange.json_values import MISSION_TIME, ValueReader
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.plain_json import read_json, write_json
from faulttree.engine.exchange.read_groups import CCF_MODELS
from faulttree.engine.exchange.read_xml import UNITS
from faulttree.engine.model import Call, Combination, Connective, MissionTime, Model, Number, ParameterReference
from faulttree.engine.problems import Problems
from tests.engine.exchange.documents import refuse_json
from tests.engine.exchange.layered_models import layered_models

PUMPS: dict[str, Any] = {
    "name": "pumps",
    "containers": [{"path": "t", "label": "Two pumps"}, {"path": "t.motor", "role": "private"}],
    "gates": {"top": {"in": "t", "formula": {"atleast": 2, "of": ["a", "t.motor.b", {"not": ["h"]}]}}},
    "basic_events": {
        "a": {"label": " pump \n A ", "probability": {"exponential": ["rate", {"mission-time": []}]}},
        "t.motor.b": {"probability": 0.1},
    },
    "house_events": {"h": {}},
    "parameters": {"rate": {"value": 1e-5, "unit": "hours-1"}},
}


def test_what_the_form_says_is_what_the_model_holds() -> None:
    model = read_json(json.dumps(PUMPS).encode())
    assert model.gates["top"].placing.path == ("t",)
    formula = model.gates["top"].formula
    assert isinstance(formula, Combination)
    assert (formula.connective, formula.low, len(formula.arguments)) == (Connective.ATLEAST, 2, 3)
    assert model.basic_events["a"].expression == Call("exponential", (ParameterReference("rate"), MissionTime()))
    assert model.basic_events["a"].placing.label == "pump A"
    assert model.basic_events["t.motor.b"].placing.role == "private"
    assert model.basic_events["t.motor.b"].placing.path == ("t", "motor")
    assert model.house_events["h"].value is False
    assert (model.parameters["rate"].unit, model.parameters["rate"].expression) == ("hours-1", Number(1e-5))


def test_an_empty_object_is_an_empty_model() -> None:
    assert read_json(b"{}") == Model()
    assert write_json(Model()) == b"{}\n"


def test_a_byte_order_mark_is_no_harm() -> None:
    assert read_json(b"\xef\xbb\xbf{}") == Model()


def change(*path: str | int, to: Any) -> dict[str, Any]:
    """The document PUMPS with one value changed."""
    document: Any = json.loads(json.dumps(PUMPS))
    inner = document
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = to
    return document  # type: ignore[no-any-return]


TOP = ("gates", "top", "formula")
RATE = ("parameters", "rate", "value")

REFUSALS: list[tuple[Any, str]] = [
    (b"", "t.json, line 1: This is not JSON: Expecting value. Mend column 1 of that line."),
    (b'{"name":\n"a",}', "t.json, line 2: This is not JSON: Expecting property name enclosed in double quotes."),
    (b"\xff\xfe", "t.json: The file is not UTF-8. Save it as UTF-8."),
    (b'{"name": "a", "name": "b"}', "t.json: This can't be read: the name 'name' stands twice in one object."),
    (b'{"parameters": {"p": {"value": NaN}}}', "t.json: This can't be read: NaN is not a number. Correct it."),
    (b"[" * 100_000, "t.json: Values are nested more than 204 deep. Give inner formulas gates of their own."),
    (b"[" * 300 + b"]" * 300, "t.json: Values are nested more than 204 deep."),
    ([], "t.json: [] is not an object. Write an object."),
    (change("colour", to="red"), "t.json: Not known here: 'colour'. Known are name, label, attributes, containers,"),
    (change("name", to=3), "t.json: name: 3 is not a text. Write a text."),
    (change("containers", to={}), "t.json: containers: {} is not a list. Write a list."),
    (
        change("containers", 1, "role", to="hidden"),
        'containers/1/role: "hidden" is not known here. Write one of public,',
    ),
    (change("containers", 0, to={}), "t.json: containers/0: Missing here: path. Add path."),
    (change("containers", 1, "path", to="t"), "t.json: containers/1: t is defined twice. Rename one of the two."),
    (
        change("containers", 0, to={"path": "u.v"}),
        "t.json: containers/0: u is not defined before it. Put the container that holds another first.",
    ),
    (change("gates", "top", to={}), "t.json: gates/top: Missing here: formula. Add formula."),
    (change("gates", "top", "in", to="u"), "gates/top: The container u is not defined. Add it to containers or"),
    (change("gates", "x y", to={"formula": "a"}), 'gates: "x y" is not written as it should be. Write a name,'),
    (change("gates", "1st", to={"formula": "a"}), "gates/1st: '1st' is not a name. Use a letter, then letters,"),
    (change("gates", "a", to={"formula": "h"}), "basic_events/a: The name a is given to more than one element of the"),
    (
        change("basic_events", "t.motor.b", "in", to="t"),
        "basic_events/t.motor.b: A private element has its container in its name. Remove in, or write b as the name.",
    ),
    (change("house_events", "h", "value", to="yes"), 'house_events/h/value: "yes" is not true or false.'),
    (
        change("parameters", "rate", "unit", to="days"),
        'parameters/rate/unit: "days" is not known here. Write one of bool,',
    ),
    (change(*TOP, to=3), "gates/top/formula: This is not a formula. Write a name, true, false,"),
    (change(*TOP, to={"inhibit": []}), "gates/top/formula: This is not a formula."),
    (change(*TOP, to={"and": ["a"], "or": ["a"]}), "gates/top/formula: This is not a formula."),
    (change(*TOP, to={"or": "a"}), "gates/top/formula/or: The arguments are not a list. Write them as [...]."),
    (change(*TOP, to={"or": ["a", {"and": [None]}]}), "gates/top/formula/or/1/and/0: This is not a formula."),
    (
        change(*TOP, to={"atleast": "2", "of": ["a"]}),
        "gates/top/formula/atleast: atleast has no proper count. Write a whole number.",
    ),
    (
        change(*TOP, to={"cardinality": [1], "of": ["a"]}),
        "gates/top/formula/cardinality: cardinality has no proper count. Write two whole numbers, [1, 2] for instance.",
    ),
    (change(*TOP, to={"atleast": True, "of": ["a"]}), "gates/top/formula/atleast: atleast has no proper count."),
    (change(*TOP, to={"most": 2, "of": ["a"]}), "gates/top/formula: This is not a formula."),
    (change(*TOP, to="pump"), "t.json: gate top: pump is not defined. Define it or correct the name."),
    (change(*TOP, to="top"), "t.json: gate top: The definition goes round in a circle: top > top."),
    (
        change(*RATE, to=None),
        "parameters/rate/value: This is not an expression. Write a number, the name of a parameter,",
    ),
    (change(*RATE, to=True), "parameters/rate/value: This is not an expression."),
    (change(*RATE, to=10**400), "parameters/rate/value: The number is too large. Write a number below 1e308."),
    (
        change(*RATE, to={"exponentiel": [1, 2]}),
        "parameters/rate/value/exponentiel: The function exponentiel is not supported. Did you mean exponential?",
    ),
    (change(*RATE, to={"exp": 1}), "parameters/rate/value/exp: The arguments are not a list."),
    (change(*RATE, to={"exp": [1, 2]}), "parameters/rate/value/exp: exp has 2 arguments. It takes 1."),
    (
        change(*RATE, to={"periodic-test": [1] * 11}),
        "parameters/rate/value/periodic-test: The periodic test with 11 arguments is not supported.",
    ),
    (
        change(*RATE, to={"mission-time": [1]}),
        'parameters/rate/value/mission-time: mission-time takes no arguments. Write {"mission-time": []}.',
    ),
    (change(*RATE, to=-1), "t.json: basic event a: The failure rate of exponential is -1; it must be 0 or more."),
    (change("label", to="bell \x07"), "t.json: label: The text holds the character '\\x07'"),
    (
        change(
            "common_cause_groups", to={"c": {"model": "MGL", "members": ["a"], "probability": 0, "factors": {"0": 1}}}
        ),
        'common_cause_groups/c/factors: "0" is not written as it should be. Write a name, a dotted path, or a level',
    ),
]


@pytest.mark.parametrize(("document", "said"), REFUSALS)
def test_refusal(document: Any, said: str) -> None:
    assert said in str(refuse_json(document)[0])


def test_bytes_and_values_are_limited() -> None:
    [problem] = refuse_json(b" " * 60 + b"{}", ReadLimits(bytes=50))
    assert problem.message == "The file has 62 bytes; at most 50 are read."
    [problem] = refuse_json(PUMPS, ReadLimits(elements=10))
    assert problem.message == "The file has 36 values; at most 20 are read."


def test_thousands_of_digits_cost_nothing() -> None:
    [problem] = refuse_json(b'{"parameters": {"p": {"value": ' + b"9" * 1_000_000 + b"}}}")
    assert problem.message == "The number is too large."


def test_all_problems_are_listed_at_once() -> None:
    document = change(*TOP, to={"or": [1, 2, "a"]})
    document["parameters"]["rate"]["value"] = {"sin": []}
    assert len(refuse_json(document)) == 3


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(load_schema())


def test_the_schema_names_what_the_engine_knows() -> None:
    definitions = load_schema()["$defs"]
    functions = definitions["expression"]["anyOf"][2]["propertyNames"]["enum"]
    assert set(functions) == {MISSION_TIME, *FUNCTIONS}
    assert definitions["parameter"]["properties"]["unit"]["enum"] == list(UNITS)
    assert definitions["common_cause_group"]["properties"]["model"]["enum"] == list(CCF_MODELS)
    formulas = definitions["formula"]["anyOf"]
    connectives = {name for option in formulas for name in option.get("properties", {}) if name != "of"}
    assert connectives == set(Connective)


@settings(max_examples=60, deadline=None)
@given(layered_models())
def test_what_is_written_fits_the_schema(model: Model) -> None:
    Draft202012Validator(load_schema()).validate(json.loads(write_json(model)))


_KEYS = st.sampled_from(["and", "or", "not", "of", "atleast", "cardinality", "exp", "add", "pi", "mission-time", "x"])
_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-2, 3) | st.floats(-2.0, 2.0) | st.sampled_from(["a", "b"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_KEYS, inner, max_size=2),
    max_leaves=6,
)


def _accepts(read: str, value: Any) -> bool:
    problems = Problems()
    getattr(ValueReader(problems), read)(value, "")
    return not [
        problem for problem in problems.found if " argument" not in problem.message or "list" in problem.message
    ]


@settings(max_examples=400, deadline=None)
@given(_VALUES)
def test_reader_and_schema_accept_the_same_formulas_and_expressions(value: Any) -> None:
    """Numbers of arguments apart, which the schema leaves to the reader."""
    schema = load_schema()
    for kind in ("formula", "expression"):
        validator = Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": schema["$defs"]})
        assert _accepts(kind, value) == validator.is_valid(value)


def test_a_reference_hidden_in_exchange_xml_can_be_said_in_plain_json() -> None:
    document = {
        "containers": [{"path": "t"}],
        "gates": {"g": {"in": "t", "formula": {"or": ["e", "t.e"]}}},
        "basic_events": {"e": {}, "t.e": {}},
    }
    model = read_json(json.dumps(document).encode())
    assert read_json(write_json(model)) == model
