"""What an expression is made of, with its parameters followed."""

from __future__ import annotations

from collections.abc import Iterator

from faulttree.engine.events.functions import DEVIATES
from faulttree.engine.model import Call, Expression, MissionTime, Model, ParameterReference


def parts_of(model: Model, expression: Expression | None) -> Iterator[Expression]:
    """Yield an expression and everything below it; what a parameter stands for is yielded once."""
    stack = [expression] if expression is not None else []
    seen: set[str] = set()
    while stack:
        part = stack.pop()
        yield part
        if isinstance(part, Call):
            stack.extend(part.arguments)
        elif isinstance(part, ParameterReference) and part.name not in seen:
            seen.add(part.name)
            stack.append(model.parameters[part.name].expression)


def parameters_in(expression: Expression) -> list[str]:
    """Names of the parameters that stand in an expression itself, with repeats."""
    found = []
    stack = [expression]
    while stack:
        part = stack.pop()
        if isinstance(part, ParameterReference):
            found.append(part.name)
        elif isinstance(part, Call):
            stack.extend(part.arguments)
    return found


def is_timed(model: Model, expression: Expression | None) -> bool:
    """True when an expression depends on the mission time."""
    return any(isinstance(part, MissionTime) for part in parts_of(model, expression))


def is_random(model: Model, expression: Expression | None) -> bool:
    """True when an expression holds a random deviate."""
    return any(isinstance(part, Call) and part.function in DEVIATES for part in parts_of(model, expression))


def resolve(model: Model, expression: Expression | None) -> Expression | None:
    """Follow a bare parameter to what it stands for."""
    while isinstance(expression, ParameterReference):
        expression = model.parameters[expression.name].expression
    return expression


def replace_parameter(expression: Expression, name: str, new: str) -> Expression:
    """Return an expression in which a parameter is called otherwise."""
    if isinstance(expression, ParameterReference):
        return ParameterReference(new) if expression.name == name else expression
    if isinstance(expression, Call):
        arguments = tuple(replace_parameter(argument, name, new) for argument in expression.arguments)
        return Call(expression.function, arguments)
    return expression
