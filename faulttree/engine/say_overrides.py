"""Overrides and expressions in words, for notes and tables."""

from __future__ import annotations

from faulttree.engine.model import Expression, MissionTime, Number, ParameterReference
from faulttree.engine.overrides import Overrides


def say_overrides(overrides: Overrides) -> tuple[str, ...]:
    """Return one short phrase for each override, in the order events, house events, parameters, mission time."""
    said = [f"{name} {_say_event(setting)}" for name, setting in overrides.events.items()]
    said += [f"{name} switched {'on' if value else 'off'}" for name, value in overrides.houses.items()]
    said += [f"parameter {name} = {say_expression(value)}" for name, value in overrides.parameters.items()]
    if overrides.mission_time is not None:
        said.append(f"mission time {overrides.mission_time:g} h")
    return tuple(said)


def _say_event(setting: bool | Expression) -> str:
    if isinstance(setting, bool):
        return "certain" if setting else "ruled out"
    return f"with probability {say_expression(setting)}"


def say_expression(expression: Expression) -> str:
    """Return an expression as it reads: exponential(rate, mission time)."""
    if isinstance(expression, Number):
        return f"{expression.value:g}"
    if isinstance(expression, ParameterReference):
        return expression.name
    if isinstance(expression, MissionTime):
        return "mission time"
    return f"{expression.function}({', '.join(map(say_expression, expression.arguments))})"
