"""Elements of a model that take their values from the library: which they are, and the model with other values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias, TypeVar

from faulttree.engine.editing.marks import LIBRARY, read_mark, with_mark
from faulttree.engine.editing.names import propose_name
from faulttree.engine.events.parts import parameters_in, replace_parameter
from faulttree.engine.model import BasicEvent, Expression, Model, Parameter, Placing

Element = TypeVar("Element", BasicEvent, Parameter)
Kind: TypeAlias = Literal["event", "parameter"]
Key: TypeAlias = tuple[Kind, str]
"""What an item of the library is known by: kind and name."""


@dataclass(frozen=True, slots=True)
class SharedDefinition:
    """What an item is worth in one data set; names of parameters in it are names of other shared parameters."""

    kind: Kind
    name: str
    expression: Expression
    label: str = ""
    unit: str = ""


def find_shared(model: Model) -> dict[Key, list[str]]:
    """Return the items that a model takes from the library, each with the elements that stand for it."""
    found: dict[Key, list[str]] = {}
    for event in model.basic_events.values():
        if item := read_mark(event.placing, LIBRARY):
            found.setdefault(("event", item), []).append(event.name)
    for parameter in model.parameters.values():
        if item := read_mark(parameter.placing, LIBRARY):
            found.setdefault(("parameter", item), []).append(parameter.name)
    return found


def follow_shared(keys: Iterable[Key], library: Mapping[Key, SharedDefinition]) -> tuple[Key, ...]:
    """Return the items that are there, and the shared parameters they are made of, however long the way; sorted."""
    waiting, found = [key for key in keys if key in library], set[Key]()
    while waiting:
        key = waiting.pop()
        if key in found:
            continue
        found.add(key)
        below: list[Key] = [("parameter", name) for name in parameters_in(library[key].expression)]
        waiting += [other for other in below if other in library]
    return tuple(sorted(found))


def replace_shared(model: Model, library: Mapping[Key, SharedDefinition]) -> Model:
    """Return the model in which each element of the library is worth what the library says.

    A shared parameter that a value is made of and that the model hasn't is added; where the model has a parameter of
    that name which isn't of the library, the one that is added is called otherwise. An element whose item isn't there
    stays as it is, and one that has a title in the model keeps that: two pumps of one make are still two pumps.
    """
    marked = find_shared(model)
    names = _name_parameters(model, marked, follow_shared(marked, library))
    parameters = {name: _renew(parameter, library, names) for name, parameter in model.parameters.items()}
    for item, name in names.items():
        if name not in parameters:
            parameters[name] = _renew(_bring(library["parameter", item], name), library, names)
    events = {name: _renew(event, library, names) for name, event in model.basic_events.items()}
    return replace(model, parameters=parameters, basic_events=events)


def _name_parameters(model: Model, marked: Mapping[Key, list[str]], used: Iterable[Key]) -> dict[str, str]:
    """Return what each shared parameter is called in the model."""
    names: dict[str, str] = {}
    taken = set(model.parameters)
    for kind, item in used:
        if kind == "parameter":
            known = marked.get((kind, item))
            names[item] = known[0] if known else propose_name(item, taken)
            taken.add(names[item])
    return names


def _bring(definition: SharedDefinition, name: str) -> Parameter:
    return Parameter(name, definition.expression, placing=with_mark(Placing(), LIBRARY, definition.name))


def _renew(element: Element, library: Mapping[Key, SharedDefinition], names: Mapping[str, str]) -> Element:
    kind: Kind = "parameter" if isinstance(element, Parameter) else "event"
    definition = library.get((kind, read_mark(element.placing, LIBRARY)))
    if definition is None:
        return element
    expression = _rename_all(definition.expression, names)
    placing = replace(element.placing, label=element.placing.label or definition.label)
    if isinstance(element, Parameter):
        return replace(element, expression=expression, unit=definition.unit or element.unit, placing=placing)
    return replace(element, expression=expression, placing=placing)


def _rename_all(expression: Expression, names: Mapping[str, str]) -> Expression:
    """Call every shared parameter as the model does; by way of names that no parameter can have."""
    used = [name for name in dict.fromkeys(parameters_in(expression)) if names.get(name, name) != name]
    for place, name in enumerate(used):
        expression = replace_parameter(expression, name, f"\0{place}")
    for place, name in enumerate(used):
        expression = replace_parameter(expression, f"\0{place}", names[name])
    return expression
