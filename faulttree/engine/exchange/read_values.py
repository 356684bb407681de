"""Formulas and expressions of exchange XML."""

from __future__ import annotations

import math
from collections.abc import Callable

from faulttree.engine.events.functions import FUNCTIONS
from faulttree.engine.exchange.counts import describe_count
from faulttree.engine.exchange.names import NameSpace, Path
from faulttree.engine.exchange.source import Element
from faulttree.engine.model import (
    Call,
    Combination,
    Connective,
    Expression,
    Formula,
    MissionTime,
    Number,
    ParameterReference,
    Reference,
    Truth,
)

Refuse = Callable[[Element, str, str], None]

_EVENT_TAGS = frozenset(("gate", "basic-event", "house-event", "event"))
_LEAVES = _EVENT_TAGS | {"constant", "float", "int", "bool", "parameter", "system-mission-time"}
_PAIRS = {"histogram": "bin", "switch": "case"}
_CONNECTIVES = frozenset(connective.value for connective in Connective)


class ValueReader:
    """Turns elements into formulas and expressions; what is wrong is handed to `refuse`.

    Recursion is as deep as elements are nested, which the source limits.
    """

    def __init__(self, events: NameSpace, parameters: NameSpace, refuse: Refuse) -> None:
        self._events = events
        self._parameters = parameters
        self._refuse = refuse

    def formula(self, element: Element, path: Path) -> Formula:
        """Return the formula of an element that stands inside `path`."""
        name = element.tag
        self._check_leaf(element)
        if name in _EVENT_TAGS:
            return self._event(element, path)
        if name == "constant":
            return Truth(self._truth(element))
        if name not in _CONNECTIVES:
            self._refuse(element, f"<{name}> is not a connective.", "Use " + ", ".join(sorted(_CONNECTIVES)) + ".")
            return Truth(False)
        arguments = tuple(self.formula(child, path) for child in element.children)
        return Combination(Connective(name), arguments, *self._bounds(element))

    def _check_leaf(self, element: Element) -> None:
        """What stands for itself holds nothing that would be passed over."""
        if element.children and element.tag in _LEAVES:
            child = element.children[0]
            self._refuse(child, f"<{element.tag}> holds no other elements.", "Remove what is inside.")

    def _event(self, element: Element, path: Path) -> Formula:
        name = element.get("name")
        unique = self._events.find(name, path)
        if unique is None:
            self._refuse(element, f"{name or 'An event without a name'} is not defined.", self._events.suggest(name))
            return Truth(False)
        kind = self._events.kind_of(unique)
        wanted = element.tag if element.tag != "event" else element.get("type", kind)
        if wanted != kind:
            message = f"{name} is defined as a {kind}, not as a {wanted}."
            self._refuse(element, message, f'Write <{kind} name="..."/> or the general <event name="..."/>.')
        return Reference(unique)

    def _bounds(self, element: Element) -> tuple[int | None, int | None]:
        name = element.tag
        low = self._whole(element, "min") if name in ("atleast", "cardinality") else None
        high = self._whole(element, "max") if name == "cardinality" else None
        return low, high

    def _whole(self, element: Element, attribute: str) -> int:
        text = element.get(attribute).strip()
        if text.isdecimal() and len(text) < 7:
            return int(text)
        message = f"{attribute}={text!r} is not a whole number." if text else f"The attribute {attribute} is missing."
        self._refuse(element, message, f'Write {attribute}="2", for instance.')
        return 0

    def _truth(self, element: Element) -> bool:
        value = element.get("value").strip()
        if value not in ("true", "false"):
            self._refuse(
                element, f"The constant {value!r} is neither true nor false.", 'Write value="true" or "false".'
            )
        return value == "true"

    def expression(self, element: Element, path: Path) -> Expression:
        """Return the expression of an element that stands inside `path`."""
        name = element.tag
        self._check_leaf(element)
        if name in ("float", "int", "bool"):
            return self._number(element, name)
        if name in ("parameter", "system-mission-time"):
            return MissionTime() if name == "system-mission-time" else self._parameter(element, path)
        if name not in FUNCTIONS:
            supported = "It is not one of the supported functions; rewrite the expression without it."
            self._refuse(element, f"The expression <{name}> is not supported.", supported)
            return Number(0.0)
        arguments = tuple(self.expression(child, path) for child in self._flatten(element))
        wrong = describe_count(name, len(arguments))
        if wrong:
            self._refuse(element, *wrong)
        return Call(name, arguments)

    def _flatten(self, element: Element) -> list[Element]:
        """Arguments of a function, with the bins of a histogram and the cases of a switch opened."""
        inner: list[Element] = []
        for child in element.children:
            if child.tag == _PAIRS.get(element.tag):
                if len(child.children) != 2:
                    self._refuse(child, f"A {child.tag} takes 2 expressions, not {len(child.children)}.", "Correct it.")
                inner.extend(child.children)
            else:
                inner.append(child)
        return inner

    def _number(self, element: Element, name: str) -> Expression:
        text = element.get("value").strip()
        if name == "bool" and text in ("true", "false"):
            return Number(float(text == "true"))
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value) or "_" in text:
            self._refuse(element, f"{text!r} is not a number.", 'Write value="1.5e-3", for instance.')
            return Number(0.0)
        return Number(value)

    def _parameter(self, element: Element, path: Path) -> Expression:
        name = element.get("name")
        unique = self._parameters.find(name, path)
        if unique is None:
            self._refuse(element, f"The parameter {name} is not defined.", self._parameters.suggest(name))
            return Number(0.0)
        return ParameterReference(unique)
