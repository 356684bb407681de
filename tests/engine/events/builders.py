"""Short ways to write expressions and models with parameters."""

from __future__ import annotations

from collections.abc import Mapping

from faulttree.engine.model import (
    BasicEvent,
    Call,
    CommonCauseGroup,
    Expression,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
)

TIME = MissionTime()


def to_expression(value: float | str | Expression) -> Expression:
    """A number, the name of a parameter, or an expression."""
    if isinstance(value, str):
        return ParameterReference(value)
    return Number(float(value)) if isinstance(value, int | float) else value


def call(function: str, *arguments: float | str | Expression) -> Call:
    """A function over numbers, names of parameters and expressions."""
    return Call(function, tuple(map(to_expression, arguments)))


def make_events(
    events: Mapping[str, float | str | Expression], parameters: Mapping[str, float | str | Expression] | None = None
) -> Model:
    """A model of basic events and parameters, without gates."""
    return Model(
        basic_events={name: BasicEvent(name, to_expression(value)) for name, value in events.items()},
        parameters={name: Parameter(name, to_expression(value)) for name, value in (parameters or {}).items()},
    )


def make_group(
    model: str,
    members: str | tuple[str, ...],
    total: float | str | Expression,
    *factors: float | str | Expression,
    name: str = "group",
) -> CommonCauseGroup:
    """A common-cause group; the levels follow from the model, the members are letters or whole names."""
    first = 1 if model in ("alpha-factor", "phi-factor") else 2
    leveled = tuple((level, to_expression(factor)) for level, factor in enumerate(factors, first))
    return CommonCauseGroup(name, model, tuple(members), to_expression(total), leveled)
