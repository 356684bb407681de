"""Edits of what an element stands for elsewhere: the library, another tree; and the title of the whole."""

from __future__ import annotations

from dataclasses import replace

from faulttree.engine.editing.done import Done, drop, find_element, find_gate, put
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.inputs import inputs_of, users_of, walk_below
from faulttree.engine.model import BasicEvent, Combination, Connective, Gate, HouseEvent, Model, Parameter, Placing

LIBRARY = "library"
"""Attribute of an event or parameter whose value comes from the library; its value is the name there."""

TRANSFER = "transfer"
"""Attribute of a gate that stands for a gate of another tree; its value is `tree/revision/gate`."""


def read_mark(placing: Placing, mark: str) -> str:
    """Return the value of an attribute, empty where there is none."""
    return next((value for name, value, _ in placing.attributes if name == mark), "")


def with_mark(placing: Placing, mark: str, value: str) -> Placing:
    """Return the placing with an attribute, or without it where the value is empty."""
    others = tuple(attribute for attribute in placing.attributes if attribute[0] != mark)
    return replace(placing, attributes=(*others, (mark, value, "")) if value else others)


def set_title(model: Model, *, label: str) -> Done:
    """The whole tree has another title."""
    label = " ".join((label or "").split())
    if not model.containers:
        return Done(replace(model, label=label), "The tree has another title.")
    first = replace(model.containers[0], label=label)
    return Done(replace(model, containers=(first, *model.containers[1:])), "The tree has another title.")


def share(model: Model, *, name: str, item: str, kind: str = "event") -> Done:
    """An event or parameter takes its value from the library from now on."""
    element: Gate | BasicEvent | HouseEvent | Parameter
    if kind == "parameter":
        if name not in model.parameters:
            raise EditRefused(f"There is no parameter {name}.", "Choose one that is there.", "name")
        parameter = model.parameters[name]
        marked = replace(parameter, placing=with_mark(parameter.placing, LIBRARY, item))
        model = replace(model, parameters={**model.parameters, name: marked})
        return Done(model, f"Parameter {name} is {item} of the library.")
    element = find_element(model, name)
    if not isinstance(element, BasicEvent):
        raise EditRefused(f"{name} is no basic event.", "Choose one.", "name")
    model = put(model, replace(element, placing=with_mark(element.placing, LIBRARY, item)))
    return Done(model, f"{name} is {item} of the library.", name)


def unshare(model: Model, *, name: str, kind: str = "event") -> Done:
    """An event or parameter keeps the value it has here, whatever becomes of the library."""
    done = share(model, name=name, item="", kind=kind)
    return replace(done, words=f"{name} has a value of its own again.")


def transfer(model: Model, *, name: str, tree: int, revision: int, top: str) -> Done:
    """A gate stands for a gate of another tree; what only it used is gone from here."""
    gate = find_gate(model, name, "name")
    before = {item.name for item in inputs_of(gate)}
    placing = with_mark(gate.placing, TRANSFER, f"{tree}/{revision}/{top}")
    model = put(model, Gate(name, Combination(Connective.OR, ()), placing))
    gone: set[str] = set()
    for root in before:
        if not users_of(model, root):
            below = set(walk_below(model, root))
            kept = {
                part
                for other in model.gates.values()
                if other.name not in below
                for item in inputs_of(other)
                for part in walk_below(model, item.name)
            }
            gone |= below - kept
            model = drop(model, below - kept)
    said = f", {len(gone)} gates and events are there now" if gone else ""
    return Done(model, f"{name} is a transfer to {top} of another tree{said}.", name)


def is_transfer(gate: Gate) -> bool:
    """Tell whether a gate stands for a gate of another tree."""
    return bool(read_mark(gate.placing, TRANSFER))


def refuse_transfer(gate: Gate, field: str) -> None:
    """Raise EditRefused for a gate that stands for one of another tree."""
    if is_transfer(gate):
        raise EditRefused(f"{gate.name} is a transfer to another tree.", "Change what is below it there.", field)
