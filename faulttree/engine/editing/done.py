"""What an edit gives, and small things that edits share."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.model import BasicEvent, Gate, HouseEvent, Model, Placing


@dataclass(frozen=True, slots=True)
class Done:
    """The model after the edit, a sentence on what was done, and what to look at: an element and the gate above it."""

    model: Model
    words: str
    chosen: str = ""
    under: str = ""


def taken_names(model: Model) -> set[str]:
    """Return the names of all gates and events."""
    return {*model.gates, *model.basic_events, *model.house_events}


def find_gate(model: Model, name: str, field: str = "under") -> Gate:
    """Return a gate; raises EditRefused where there is none of that name."""
    if name not in model.gates:
        what = f"{name} is no gate." if name in taken_names(model) else f"There is no gate {name}."
        raise EditRefused(what, "Choose a gate.", field)
    return model.gates[name]


def find_element(model: Model, name: str, field: str = "name") -> Gate | BasicEvent | HouseEvent:
    """Return a gate or event; raises EditRefused where there is none of that name."""
    found = model.gates.get(name) or model.basic_events.get(name) or model.house_events.get(name)
    if found is None:
        raise EditRefused(f"There is no gate or event {name}.", "Choose one that is there.", field)
    return found


def place_new(model: Model, label: str) -> Placing:
    """Return where a new element stands: in the first fault tree of the model."""
    path = model.containers[0].path[:1] if model.containers else ()
    return Placing(path, label=" ".join(label.split()))


def put(model: Model, *elements: Gate | BasicEvent | HouseEvent) -> Model:
    """Return the model with elements added or replaced."""
    gates, events, houses = dict(model.gates), dict(model.basic_events), dict(model.house_events)
    for element in elements:
        if isinstance(element, Gate):
            gates[element.name] = element
        elif isinstance(element, BasicEvent):
            events[element.name] = element
        else:
            houses[element.name] = element
    return replace(model, gates=gates, basic_events=events, house_events=houses)


def drop(model: Model, names: Collection[str]) -> Model:
    """Return the model without these gates and events; a common-cause group left with one member goes too."""
    groups = {}
    for group in model.common_cause_groups.values():
        members = tuple(name for name in group.members if name not in names)
        if len(members) == len(group.members):
            groups[group.name] = group
        elif len(members) >= 2 and group.model == "beta-factor":
            factors = tuple((len(members), factor) for _, factor in group.factors)
            groups[group.name] = replace(group, members=members, factors=factors)
    return replace(
        model,
        gates={name: gate for name, gate in model.gates.items() if name not in names},
        basic_events={name: event for name, event in model.basic_events.items() if name not in names},
        house_events={name: house for name, house in model.house_events.items() if name not in names},
        common_cause_groups=groups,
    )
