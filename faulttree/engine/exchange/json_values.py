"""Formulas and expressions in plain JSON.

A formula is a name, true or false, or an object with one connective: {"or": ["a", {"and": ["b", "c"]}]},
{"atleast": 2, "of": [...]}, {"cardinality": [1, 2], "of": [...]}. An expression is a number, the name of
a parameter, or an object with one function: {"exponential": ["rate", {"mission-time": []}]}.
"""

from __future__ import annotations

import math
from typing import Any

from faulttree.engine.events.functions import FUNCTIONS
from faulttree.engine.exchange.counts import describe_count
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
from faulttree.engine.problems import Problems, suggest_name

MISSION_TIME = "mission-time"
LARGEST_COUNT = 999_999

_COUNTED = {"atleast": Connective.ATLEAST, "cardinality": Connective.CARDINALITY}
_PLAIN = {c.value: c for c in Connective if c.value not in _COUNTED}


class ValueReader:
    """Turns JSON values into formulas and expressions; what is wrong goes to `problems`.

    `where` is the path of a value in the document. Recursion is as deep as values are nested, which the
    reader limits.
    """

    def __init__(self, problems: Problems) -> None:
        self._problems = problems

    def formula(self, value: Any, where: str) -> Formula:
        """Return a formula."""
        if isinstance(value, str):
            return Reference(value)
        if isinstance(value, bool):
            return Truth(value)
        if not isinstance(value, dict):
            return self._no_formula(where)
        if len(value) == 2 and "of" in value:
            return self._counted(value, where)
        if len(value) != 1 or next(iter(value)) not in _PLAIN:
            return self._no_formula(where)
        name, arguments = next(iter(value.items()))
        return Combination(_PLAIN[name], self._arguments(arguments, f"{where}/{name}"))

    def _no_formula(self, where: str) -> Formula:
        mend = f'Write a name, true, false, {{"atleast": 2, "of": [...]}} or an object with one of {", ".join(_PLAIN)}.'
        self._problems.add(where, None, "This is not a formula.", mend)
        return Truth(False)

    def _arguments(self, value: Any, where: str) -> tuple[Formula, ...]:
        if not isinstance(value, list):
            self._problems.add(where, None, "The arguments are not a list.", "Write them as [...].")
            return ()
        return tuple(self.formula(argument, f"{where}/{i}") for i, argument in enumerate(value))

    def _counted(self, value: dict[str, Any], where: str) -> Formula:
        name = next(key for key in value if key != "of")
        if name not in _COUNTED:
            return self._no_formula(where)
        counts = value[name] if name == "cardinality" else [value[name]]
        good = isinstance(counts, list) and len(counts) == (2 if name == "cardinality" else 1)
        if not good or not all(type(count) is int and 0 <= count <= LARGEST_COUNT for count in counts):
            wanted = "two whole numbers, [1, 2] for instance" if name == "cardinality" else "a whole number"
            self._problems.add(f"{where}/{name}", None, f"{name} has no proper count.", f"Write {wanted}.")
            return Truth(False)
        arguments = self._arguments(value["of"], f"{where}/of")
        return Combination(_COUNTED[name], arguments, *counts)

    def expression(self, value: Any, where: str) -> Expression:
        """Return an expression."""
        if isinstance(value, str):
            return ParameterReference(value)
        if isinstance(value, int | float) and not isinstance(value, bool):
            return self._number(value, where)
        if not isinstance(value, dict) or len(value) != 1:
            mend = 'Write a number, the name of a parameter, or a function as {"exponential": [...]}.'
            self._problems.add(where, None, "This is not an expression.", mend)
            return Number(0.0)
        name, arguments = next(iter(value.items()))
        where = f"{where}/{name}"
        if name not in FUNCTIONS and name != MISSION_TIME:
            mend = suggest_name(name, FUNCTIONS, "Rewrite the expression without it.")
            self._problems.add(where, None, f"The function {name} is not supported.", mend)
            return Number(0.0)
        if not isinstance(arguments, list):
            self._problems.add(where, None, "The arguments are not a list.", "Write them as [...].")
            return Number(0.0)
        return self._call(name, tuple(self.expression(item, f"{where}/{i}") for i, item in enumerate(arguments)), where)

    def _call(self, name: str, arguments: tuple[Expression, ...], where: str) -> Expression:
        count = len(arguments)
        if name == MISSION_TIME:
            if arguments:
                self._problems.add(where, None, f"{name} takes no arguments.", f'Write {{"{MISSION_TIME}": []}}.')
            return MissionTime()
        wrong = describe_count(name, count)
        if wrong:
            self._problems.add(where, None, *wrong)
        return Call(name, arguments)

    def _number(self, value: float, where: str) -> Expression:
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self._problems.add(where, None, "The number is too large.", "Write a number below 1e308.")
            number = 0.0
        return Number(number)


def write_formula(formula: Formula) -> Any:
    """Return a formula as JSON; recursion is as deep as it is nested."""
    if isinstance(formula, Reference):
        return formula.name
    if isinstance(formula, Truth):
        return formula.value
    arguments = [write_formula(argument) for argument in formula.arguments]
    match formula.connective:
        case Connective.ATLEAST:
            return {"atleast": formula.low, "of": arguments}
        case Connective.CARDINALITY:
            return {"cardinality": [formula.low, formula.high], "of": arguments}
    return {formula.connective.value: arguments}


def write_expression(expression: Expression) -> Any:
    """Return an expression as JSON; recursion is as deep as it is nested."""
    if isinstance(expression, Number):
        return expression.value
    if isinstance(expression, ParameterReference):
        return expression.name
    if isinstance(expression, MissionTime):
        return {MISSION_TIME: []}
    return {expression.function: [write_expression(argument) for argument in expression.arguments]}
