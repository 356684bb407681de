"""Parameters and common-cause groups of a draft, as the bench lists them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from faulttree.engine.editing.groups import GROUP_MODELS, needed_levels
from faulttree.engine.editing.marks import LIBRARY, read_mark
from faulttree.engine.editing.typed import write_typed
from faulttree.engine.editing.values import find_parameter_users
from faulttree.engine.errors import BadModel
from faulttree.engine.events.common_cause import derive_events, expand_common_cause
from faulttree.engine.model import CommonCauseGroup, Expression, Model, ParameterReference
from faulttree.reads.chosen import Filled, fill_models
from faulttree.reads.draft_graph import find_value


@dataclass(frozen=True, slots=True)
class ParameterRow:
    """A parameter: its value at the mission time, and what uses it."""

    name: str
    label: str
    unit: str
    value: float | None
    users: tuple[str, ...]
    filled: tuple[Filled, ...] = ()
    is_other: bool = False
    library: str = ""


@dataclass(frozen=True, slots=True)
class Derived:
    """One event that a group is written out to."""

    name: str
    members: tuple[str, ...]
    value: float | None


@dataclass(frozen=True, slots=True)
class GroupRow:
    """A common-cause group with what it stands for."""

    name: str
    model: str
    model_name: str
    members: tuple[str, ...]
    total: str
    factors: tuple[tuple[int, str], ...]
    derived: tuple[Derived, ...]
    trouble: str


@dataclass(frozen=True)
class Extras:
    """What stands below the tree."""

    parameters: tuple[ParameterRow, ...]
    groups: tuple[GroupRow, ...]
    new_value: tuple[Filled, ...]
    events: tuple[str, ...]
    """Basic events that are in no group."""
    group_models: tuple[tuple[str, str], ...] = tuple(GROUP_MODELS.items())


def read_extras(model: Model, mission_time: float | None) -> Extras:
    """Return the parameters and groups of a flat model."""
    grouped = {name for group in model.common_cause_groups.values() for name in group.members}
    return Extras(
        parameters=tuple(_read_row(model, name, mission_time, {}) for name in model.parameters),
        groups=tuple(_read_group(model, group, mission_time) for group in model.common_cause_groups.values()),
        new_value=fill_models(None),
        events=tuple(name for name in model.basic_events if name not in grouped),
    )


def read_parameter(model: Model, name: str, mission_time: float | None) -> ParameterRow:
    """Return a parameter with the fields of its form."""
    typed = write_typed(model.parameters[name].expression)
    users = {name: tuple(find_parameter_users(model, name))}
    row = _read_row(model, name, mission_time, users)
    library = read_mark(model.parameters[name].placing, LIBRARY)
    return replace(row, filled=fill_models(typed), is_other=typed is None, library=library)


def _read_row(
    model: Model, name: str, mission_time: float | None, users: Mapping[str, tuple[str, ...]]
) -> ParameterRow:
    parameter = model.parameters[name]
    value = find_value(model, parameter.expression, mission_time)
    return ParameterRow(name, parameter.placing.label, parameter.unit, value, users.get(name, ()))


def _read_group(model: Model, group: CommonCauseGroup, mission_time: float | None) -> GroupRow:
    derived: tuple[Derived, ...] = ()
    trouble = ""
    try:
        expanded = expand_common_cause(model)
        derived = tuple(
            Derived(event.name, subset, find_value(expanded, event.expression, mission_time))
            for subset, event in derive_events(group)
        )
    except (BadModel, KeyError, ZeroDivisionError) as error:
        trouble = str(error)
    levels = dict(group.factors)
    return GroupRow(
        group.name,
        group.model,
        GROUP_MODELS.get(group.model, group.model),
        group.members,
        _text(group.distribution),
        tuple((level, _text(levels.get(level))) for level in needed_levels(group.model, len(group.members))),
        derived,
        trouble,
    )


def _text(expression: Expression | None) -> str:
    if isinstance(expression, ParameterReference):
        return expression.name
    typed = write_typed(expression)
    return typed[1][0] if typed and typed[0] == "number" else ""
