"""A model in plain JSON, a form of our own for programs and fixtures; model.schema.json documents it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, NoReturn

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.json_schema import find_faults
from faulttree.engine.exchange.json_values import ValueReader, write_expression, write_formula
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.names import NAME, NAME_RULE, NameSpace
from faulttree.engine.exchange.text import find_bad_character
from faulttree.engine.model import (
    BasicEvent,
    CommonCauseGroup,
    Container,
    Gate,
    HouseEvent,
    Model,
    Parameter,
    Placing,
)
from faulttree.engine.problems import Problems
from faulttree.engine.validate import check_model

NESTING = 2  # an object and its list for what is one element of exchange XML
OUTER_DEPTH = 4  # document, kind, element, formula


def read_json(data: bytes, *, file: str = "", limits: ReadLimits | None = None, finished: bool = True) -> Model:
    """Return the model in plain JSON; raises BadModel with every problem found, naming its path in the document.

    file : name used in messages
    finished : False lets through what isn't complete or sound yet, as long as it can be written down
    """
    document = _parse(data, file, limits or ReadLimits())
    problems = Problems(file)
    for where, message, mend in find_faults(document):
        problems.add(where, None, message, mend)
    problems.raise_any()
    model = _Reader(problems).read(document)
    problems.raise_any()
    if finished:
        check_model(model, file=file)
    return model


def _parse(data: bytes, file: str, limits: ReadLimits) -> Any:
    def refuse(message: str, mend: str, line: int | None = None) -> NoReturn:
        raise BadModel(Problem(message, mend, file=file, line=line))

    if len(data) > limits.bytes:
        refuse(f"The file has {len(data):,} bytes; at most {limits.bytes:,} are read.", "Split the model.")
    deep = f"Values are nested more than {_depth(limits)} deep."
    inner = "Give inner formulas gates of their own."
    try:
        text = data.decode("utf-8-sig")
        document = json.loads(text, object_pairs_hook=_unique, parse_constant=_no_number, parse_int=_whole)
    except UnicodeDecodeError:
        refuse("The file is not UTF-8.", "Save it as UTF-8.")
    except json.JSONDecodeError as error:
        refuse(f"This is not JSON: {error.msg}.", f"Mend column {error.colno} of that line.", error.lineno)
    except RecursionError:
        refuse(deep, inner)
    except ValueError as error:  # a name twice, NaN
        refuse(f"This can't be read: {str(error)[:200]}.", "Correct it.")
    count, depth = _measure(document)
    if count > NESTING * limits.elements:
        refuse(f"The file has {count:,} values; at most {NESTING * limits.elements:,} are read.", "Split the model.")
    if depth > _depth(limits):
        refuse(deep, inner)
    return document


def _depth(limits: ReadLimits) -> int:
    return NESTING * limits.depth + OUTER_DEPTH


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in members if names.count(name) > 1)
        raise ValueError(f"the name {twice!r} stands twice in one object")
    return members


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is not a number")


def _whole(text: str) -> int | float:
    return int(text) if len(text) < 20 else float(text)  # no time is spent on thousands of digits


def _measure(document: Any) -> tuple[int, int]:
    """Number of values and depth of nesting."""
    count, deepest = 0, 0
    stack = [(document, 1)]
    while stack:
        value, depth = stack.pop()
        count += 1
        deepest = max(deepest, depth)
        inner: Iterable[Any] = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
        stack.extend((item, depth + 1) for item in inner)
    return count, deepest


class _Reader:
    """Turns a document that fits the schema into a model."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._values = ValueReader(problems)
        self._paths: set[tuple[str, ...]] = set()

    def read(self, document: dict[str, Any]) -> Model:
        """Return the model; what is wrong goes to the problems."""
        containers = tuple(
            self._container(item, f"containers/{i}") for i, item in enumerate(document.get("containers", []))
        )
        events, value = NameSpace(), self._values
        gates, basics, houses, parameters, groups = {}, {}, {}, {}, {}
        for name, item, where, placing in self._elements(document, "gates", events):
            gates[name] = Gate(name, value.formula(item["formula"], f"{where}/formula"), placing)
        for name, item, where, placing in self._elements(document, "basic_events", events):
            given = "probability" in item
            expression = value.expression(item["probability"], f"{where}/probability") if given else None
            basics[name] = BasicEvent(name, expression, placing)
        for name, item, _, placing in self._elements(document, "house_events", events):
            houses[name] = HouseEvent(name, item.get("value", False), placing)
        for name, item, where, placing in self._elements(document, "parameters", NameSpace()):
            expression = value.expression(item["value"], f"{where}/value")
            parameters[name] = Parameter(name, expression, item.get("unit", ""), placing)
        for name, item, where, placing in self._elements(document, "common_cause_groups", NameSpace()):
            groups[name] = self._group(name, item, where, placing)
        name, label = self._text(document.get("name", ""), "name"), self._label(document, "")
        attributes = self._attributes(document, "")
        return Model(name, label, containers, gates, basics, houses, parameters, groups, attributes)

    def _container(self, item: dict[str, Any], where: str) -> Container:
        path = tuple(item["path"].split("."))
        for name in path:
            self._check_name(name, where)
        if path in self._paths:
            self._problems.add(where, None, f"{item['path']} is defined twice.", "Rename one of the two.")
        if path[:-1] and path[:-1] not in self._paths:
            message = f"{'.'.join(path[:-1])} is not defined before it."
            self._problems.add(where, None, message, "Put the container that holds another first.")
        self._paths.add(path)
        return Container(path, item.get("role", "public"), self._label(item, where), self._attributes(item, where))

    def _elements(
        self, document: dict[str, Any], kind: str, space: NameSpace
    ) -> Iterable[tuple[str, dict[str, Any], str, Placing]]:
        """Yield unique name, content, path in the document and place in the model of every element of a kind."""
        for name, item in document.get(kind, {}).items():
            where = f"{kind}/{name}"
            *holders, own = name.split(".")
            self._check_name(own, where)
            if holders and "in" in item:
                message = "A private element has its container in its name."
                self._problems.add(where, None, message, f"Remove in, or write {own} as the name.")
            path = tuple(holders) if holders else tuple(item["in"].split(".")) if "in" in item else ()
            if path and path not in self._paths:
                message = f"The container {'.'.join(path)} is not defined."
                self._problems.add(where, None, message, "Add it to containers or correct its name.")
            role = "private" if holders else "public"
            if space.add(own, path, role, kind) is None:
                message = f"The name {own} is given to more than one element of {'.'.join(path) or 'the model'}."
                self._problems.add(where, None, message, "Rename one of them.")
            yield name, item, where, Placing(path, role, self._label(item, where), self._attributes(item, where))

    def _check_name(self, name: str, where: str) -> None:
        if not NAME.match(name):
            self._problems.add(where, None, f"{name!r} is not a name.", NAME_RULE)

    def _group(self, name: str, item: dict[str, Any], where: str, placing: Placing) -> CommonCauseGroup:
        distribution = self._values.expression(item["probability"], f"{where}/probability")
        factors = [
            (int(level), self._values.expression(factor, f"{where}/factors/{level}"))
            for level, factor in sorted(item["factors"].items(), key=lambda pair: int(pair[0]))
        ]
        return CommonCauseGroup(name, item["model"], tuple(item["members"]), distribution, tuple(factors), placing)

    def _label(self, item: dict[str, Any], where: str) -> str:
        return " ".join(self._text(item.get("label", ""), f"{where}/label").split())

    def _attributes(self, item: dict[str, Any], where: str) -> tuple[tuple[str, str, str], ...]:
        return tuple(
            (
                self._text(attribute["name"], f"{where}/attributes/{i}"),
                self._text(attribute["value"], f"{where}/attributes/{i}"),
                self._text(attribute.get("type", ""), f"{where}/attributes/{i}"),
            )
            for i, attribute in enumerate(item.get("attributes", []))
        )

    def _text(self, text: str, where: str) -> str:
        wrong = find_bad_character(text)
        if wrong:
            message = f"The text holds the character {wrong!r}, which no exchange file can hold."
            self._problems.add(where.removeprefix("/"), None, message, "Remove the character.")
        return text


def write_json(model: Model) -> bytes:
    """Return the model as plain JSON, UTF-8; what was read, is written and read again is the same model."""
    document: dict[str, Any] = {"name": model.name, **_notes(model.label, model.attributes)}
    document["containers"] = [
        {"path": ".".join(c.path), **({"role": c.role} if c.role != "public" else {}), **_notes(c.label, c.attributes)}
        for c in model.containers
    ]
    document["gates"] = {
        name: {**_place(gate.placing), "formula": write_formula(gate.formula)} for name, gate in model.gates.items()
    }
    document["basic_events"] = {
        name: {
            **_place(event.placing),
            **({} if event.expression is None else {"probability": write_expression(event.expression)}),
        }
        for name, event in model.basic_events.items()
    }
    document["house_events"] = {
        name: {**_place(house.placing), "value": house.value} for name, house in model.house_events.items()
    }
    document["parameters"] = {
        name: {
            **_place(parameter.placing),
            **({"unit": parameter.unit} if parameter.unit else {}),
            "value": write_expression(parameter.expression),
        }
        for name, parameter in model.parameters.items()
    }
    document["common_cause_groups"] = {
        name: {**_place(group.placing), **_write_group(group)} for name, group in model.common_cause_groups.items()
    }
    plain = {name: value for name, value in document.items() if value}
    return (json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _write_group(group: CommonCauseGroup) -> dict[str, Any]:
    return {
        "model": group.model,
        "members": list(group.members),
        "probability": write_expression(group.distribution),
        "factors": {str(level): write_expression(factor) for level, factor in group.factors},
    }


def _place(placing: Placing) -> dict[str, Any]:
    inside = {"in": ".".join(placing.path)} if placing.path and placing.role == "public" else {}
    return {**_notes(placing.label, placing.attributes), **inside}


def _notes(label: str, attributes: tuple[tuple[str, str, str], ...]) -> dict[str, Any]:
    notes: dict[str, Any] = {"label": label} if label else {}
    if attributes:
        notes["attributes"] = [
            {"name": name, "value": value, **({"type": kind} if kind else {})} for name, value, kind in attributes
        ]
    return notes
