"""Formulas and expressions as exchange XML."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.names import NameSpace, Path
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
)


@dataclass(frozen=True)
class Spelling:
    """How references made inside one element are written; `owner` and `path` are its name and place."""

    owner: str
    path: Path
    events: NameSpace
    parameters: NameSpace

    def write_event(self, parent: etree._Element, unique: str) -> None:
        """Add a typed reference to a gate or an event."""
        name = self._spell(self.events, unique)
        etree.SubElement(parent, self.events.kind_of(unique), name=name)

    def write_parameter(self, parent: etree._Element, unique: str) -> None:
        """Add a reference to a parameter."""
        etree.SubElement(parent, "parameter", name=self._spell(self.parameters, unique))

    def _spell(self, space: NameSpace, unique: str) -> str:
        name = space.spell(unique, self.path)
        if name is None:
            message = f"It refers to {unique}, which is not defined or which a name nearer to it hides."
            raise BadModel(Problem(message, "Define it, or rename one of the two.", self.owner))
        return name


def write_formula(parent: etree._Element, formula: Formula, spelling: Spelling) -> None:
    """Add a formula; recursion is as deep as it is nested."""
    if isinstance(formula, Reference):
        spelling.write_event(parent, formula.name)
        return
    if not isinstance(formula, Combination):
        etree.SubElement(parent, "constant", value="true" if formula.value else "false")
        return
    node = etree.SubElement(parent, formula.connective.value)
    if formula.connective in (Connective.ATLEAST, Connective.CARDINALITY):
        node.set("min", str(formula.low))
    if formula.connective is Connective.CARDINALITY:
        node.set("max", str(formula.high))
    for argument in formula.arguments:
        write_formula(node, argument, spelling)


def write_expression(parent: etree._Element, expression: Expression, spelling: Spelling) -> None:
    """Add an expression; recursion is as deep as it is nested."""
    if isinstance(expression, Number):
        etree.SubElement(parent, "float", value=repr(expression.value))
    elif isinstance(expression, ParameterReference):
        spelling.write_parameter(parent, expression.name)
    elif isinstance(expression, MissionTime):
        etree.SubElement(parent, "system-mission-time")
    else:
        _write_call(etree.SubElement(parent, expression.function), expression, spelling)


def _write_call(node: etree._Element, call: Call, spelling: Spelling) -> None:
    """The arguments, those of a histogram in bins after the first, those of a switch in cases before the last."""
    count = len(call.arguments)
    paired = {"histogram": (1, count, "bin"), "switch": (0, count - 1, "case")}
    first, stop, name = paired.get(call.function, (0, 0, ""))
    holder = node
    for position, argument in enumerate(call.arguments):
        if first <= position < stop:
            if (position - first) % 2 == 0:
                holder = etree.SubElement(node, name)
        else:
            holder = node
        write_expression(holder, argument, spelling)
