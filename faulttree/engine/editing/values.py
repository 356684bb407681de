"""Edits of what elements are called and worth: names, titles, probabilities, switches, parameters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TypeVar

from faulttree.engine.editing.done import Done, find_element, put, taken_names
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.inputs import inputs_of, with_inputs
from faulttree.engine.editing.names import check_name
from faulttree.engine.events.parts import parameters_in, parts_of, replace_parameter
from faulttree.engine.model import (
    BasicEvent,
    Expression,
    Gate,
    HouseEvent,
    Model,
    Parameter,
    ParameterReference,
    Placing,
)

Named = TypeVar("Named", Gate, BasicEvent, HouseEvent)


def name_element(model: Model, *, name: str, new: str, label: str | None = None) -> Done:
    """An element has another name everywhere, and another title where one is given."""
    element = find_element(model, name)
    label = element.placing.label if label is None else " ".join(label.split())
    model = put(model, replace(element, placing=replace(element.placing, label=label)))
    if new == name:
        return Done(model, f"{name} is titled “{label}”." if label else f"{name} has no title.", name)
    new = check_name(new, taken_names(model), "new")
    return Done(_rename(model, name, new), f"{name} is called {new} now.", new)


def set_value(model: Model, *, name: str, expression: Expression | None) -> Done:
    """A basic event has another probability, or none."""
    event = model.basic_events.get(name)
    if event is None:
        raise EditRefused(f"{name} is no basic event.", "Choose one.", "name")
    _refuse_unknown(model, expression)
    return Done(put(model, replace(event, expression=expression)), f"{name} has another probability.", name)


def switch(model: Model, *, name: str, value: bool) -> Done:
    """A house event is on or off."""
    house = model.house_events.get(name)
    if house is None:
        raise EditRefused(f"{name} is no house event.", "Choose one.", "name")
    return Done(put(model, replace(house, value=value)), f"{name} is {'true' if value else 'false'}.", name)


def set_parameter(
    model: Model, *, name: str, expression: Expression, unit: str = "", label: str = "", new: str = ""
) -> Done:
    """A parameter is there with this value, under another name where one is given."""
    known = model.parameters.get(name)
    if known is None:
        name = check_name(name, model.parameters)
    _refuse_unknown(model, expression, besides=name)
    placing = replace(known.placing if known else Placing(), label=" ".join(label.split()))
    parameters = {**model.parameters, name: Parameter(name, expression, unit, placing)}
    model = replace(model, parameters=parameters)
    words = f"Parameter {name} has another value." if known else f"Parameter {name} is new."
    if new and new != name:
        model = _rename_parameter(model, name, check_name(new, model.parameters, "new"))
        words = f"Parameter {name} is called {new} now."
    return Done(model, words)


def remove_parameter(model: Model, *, name: str) -> Done:
    """A parameter that nothing uses is gone."""
    if name not in model.parameters:
        raise EditRefused(f"There is no parameter {name}.", "Choose one that is there.", "name")
    users = find_parameter_users(model, name)
    if users:
        raise EditRefused(f"{name} is used by {', '.join(users[:5])}.", "Give those another value first.", "name")
    parameters = {other: parameter for other, parameter in model.parameters.items() if other != name}
    return Done(replace(model, parameters=parameters), f"Parameter {name} is removed.")


def find_parameter_users(model: Model, name: str) -> list[str]:
    """Return the names of the events, parameters and groups whose expression holds a parameter."""
    users = [e.name for e in model.basic_events.values() if e.expression and name in parameters_in(e.expression)]
    users += [p.name for p in model.parameters.values() if name in parameters_in(p.expression)]
    for group in model.common_cause_groups.values():
        if any(name in parameters_in(part) for part in (group.distribution, *(factor for _, factor in group.factors))):
            users.append(group.name)
    return users


def _rename(model: Model, name: str, new: str) -> Model:
    gates = {}
    for gate in model.gates.values():
        inputs = tuple(replace(item, name=new) if item.name == name else item for item in inputs_of(gate))
        gates[gate.name] = with_inputs(gate, inputs)
    groups = {
        old: replace(group, members=tuple(new if member == name else member for member in group.members))
        for old, group in model.common_cause_groups.items()
    }
    return replace(
        model,
        gates=_under_new_name(gates, name, new),
        basic_events=_under_new_name(model.basic_events, name, new),
        house_events=_under_new_name(model.house_events, name, new),
        common_cause_groups=groups,
    )


def _under_new_name(elements: Mapping[str, Named], name: str, new: str) -> dict[str, Named]:
    """Return the elements in their order; the one that is renamed is known everywhere by its new name."""
    found = {}
    for old, element in elements.items():
        if old == name:
            element = replace(element, name=new, placing=replace(element.placing, role="public"))
        found[element.name] = element
    return found


def _rename_parameter(model: Model, name: str, new: str) -> Model:
    def change(expression: Expression) -> Expression:
        return replace_parameter(expression, name, new)

    events = {
        event.name: replace(event, expression=change(event.expression)) if event.expression else event
        for event in model.basic_events.values()
    }
    parameters = {
        new if old == name else old: replace(
            parameter, name=new if old == name else old, expression=change(parameter.expression)
        )
        for old, parameter in model.parameters.items()
    }
    groups = {
        group.name: replace(
            group,
            distribution=change(group.distribution),
            factors=tuple((level, change(factor)) for level, factor in group.factors),
        )
        for group in model.common_cause_groups.values()
    }
    return replace(model, basic_events=events, parameters=parameters, common_cause_groups=groups)


def _refuse_unknown(model: Model, expression: Expression | None, besides: str = "") -> None:
    for part in parts_of(model, expression) if _all_known(model, expression) else ():
        if isinstance(part, ParameterReference) and part.name == besides:
            raise EditRefused(f"The parameter {besides} would be made of itself.", "Give a number.", "expression")


def _all_known(model: Model, expression: Expression | None) -> bool:
    for name in parameters_in(expression) if expression is not None else []:
        if name not in model.parameters:
            raise EditRefused(f"There is no parameter {name}.", "Add it first, or give a number.", "expression-0")
    return True
