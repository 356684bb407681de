"""Edits of the structure: add, use again, move, copy, wrap, negate, order and remove."""

from __future__ import annotations

from dataclasses import replace

from faulttree.engine.editing.done import Done, drop, find_element, find_gate, place_new, put, taken_names
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.inputs import Input, inputs_of, users_of, walk_below, with_inputs
from faulttree.engine.editing.kinds import make_combination, say_kind
from faulttree.engine.editing.marks import refuse_transfer
from faulttree.engine.editing.names import check_name, number_name, propose_name
from faulttree.engine.model import BasicEvent, Expression, Gate, HouseEvent, Model

Element = Gate | BasicEvent | HouseEvent


def add_gate(
    model: Model, *, under: str = "", name: str = "", label: str = "", kind: str = "or", low: int | None = None
) -> Done:
    """A new gate is an input of `under`, or a top event of its own where that is empty."""
    name = check_name(name or number_name("G", taken_names(model)), taken_names(model))
    gate = Gate(name, make_combination(kind, (), low), place_new(model, label))
    return _attach(model, gate, under, f"{say_kind(gate)} gate {name}")


def add_event(
    model: Model, *, under: str, name: str = "", label: str = "", expression: Expression | None = None
) -> Done:
    """A new basic event is an input of `under`."""
    name = check_name(name or number_name("E", taken_names(model)), taken_names(model))
    done = _attach(model, BasicEvent(name, expression, place_new(model, label)), under, f"Basic event {name}")
    return _stay(model, done, under)


def add_house(model: Model, *, under: str, name: str = "", label: str = "", value: bool = False) -> Done:
    """A new house event is an input of `under`."""
    name = check_name(name or number_name("H", taken_names(model)), taken_names(model))
    done = _attach(model, HouseEvent(name, value, place_new(model, label)), under, f"House event {name}")
    return _stay(model, done, under)


def use_again(model: Model, *, name: str, under: str) -> Done:
    """An element that is there becomes an input of one more gate: one and the same event, not a copy."""
    element = find_element(model, name)
    _refuse_circle(model, name, under)
    done = _attach(model, element, under, name)
    return _stay(model, replace(done, words=f"{name} is used under {under} too."), under)


def move(model: Model, *, name: str, source: str, under: str, at: int | None = None) -> Done:
    """An input of `source` becomes one of `under`, with its whole branch; `at` is its place there, from 0."""
    gate, target = find_gate(model, source, "source"), find_gate(model, under)
    item = _find_input(gate, name)
    refuse_transfer(target, "under")
    _refuse_circle(model, name, under)
    if source != under and any(other.name == name for other in inputs_of(target)):
        raise EditRefused(f"{under} has {name} as an input already.", "Choose another gate.", "under")
    left = tuple(other for other in inputs_of(gate) if other.name != name)
    model = put(model, with_inputs(gate, left))
    kept = inputs_of(model.gates[under])
    place = len(kept) if at is None else max(0, min(at, len(kept)))
    model = put(model, with_inputs(model.gates[under], (*kept[:place], item, *kept[place:])))
    words = f"{name} is another place down or up in {under}." if source == under else f"{name} is under {under} now."
    return Done(model, words, name, under)


def copy(model: Model, *, name: str, under: str, events: str = "same") -> Done:
    """A copy of a branch is an input of `under`: new gates over the same events, or over new ones.

    events : "same" or "new"
    """
    find_element(model, name)
    find_gate(model, under)
    if events not in ("same", "new"):
        raise EditRefused("The events of a copy are the same or new.", "Choose one of the two.", "events")
    taken, renamed = taken_names(model), {}
    below = [part for part in walk_below(model, name) if part in model.gates or events == "new"]
    if not below:
        raise EditRefused(f"{name} is an event.", "Use it again under the gate, or copy it as a new event.", "events")
    for part in below:
        renamed[part] = propose_name(part.replace(".", "-"), taken)
        taken.add(renamed[part])
    for part in below:
        model = put(model, _copy_element(find_element(model, part), renamed))
    done = _attach(model, find_element(model, renamed[name]), under, "")
    count = "its branch" if len(below) > 1 else "nothing below it"
    return replace(done, words=f"A copy of {name} with {count} is under {under} as {renamed[name]}.")


def wrap(model: Model, *, name: str, under: str = "", kind: str = "or", low: int | None = None) -> Done:
    """A new gate stands between an element and the gate that uses it, or over a top event."""
    find_element(model, name)
    fresh = number_name("G", taken_names(model))
    gate = Gate(fresh, make_combination(kind, (), low), place_new(model, ""))
    if not under:
        gate = with_inputs(gate, (Input(name),))
        return Done(_first(model, gate), f"{say_kind(gate)} gate {fresh} is over {name}.", fresh)
    above = find_gate(model, under)
    item = _find_input(above, name)
    gate = with_inputs(gate, (item,))
    inputs = tuple(Input(fresh) if other.name == name else other for other in inputs_of(above))
    model = put(model, with_inputs(above, inputs), gate)
    return Done(model, f"{say_kind(gate)} gate {fresh} stands between {under} and {name}.", fresh, under)


def negate(model: Model, *, name: str, under: str) -> Done:
    """The gate uses that the input doesn't occur, or again that it does."""
    gate = find_gate(model, under)
    item = _find_input(gate, name)
    flipped = replace(item, negated=not item.negated)
    inputs = tuple(flipped if other.name == name else other for other in inputs_of(gate))
    says = f"counts as not occurring in {under}" if flipped.negated else f"counts as occurring in {under} again"
    return Done(put(model, with_inputs(gate, inputs)), f"{name} {says}.", name, under)


def shift(model: Model, *, name: str, under: str, by: int) -> Done:
    """The input stands some places earlier (by < 0) or later among those of its gate."""
    names = [item.name for item in inputs_of(find_gate(model, under))]
    _find_input(model.gates[under], name)
    place = max(0, min(names.index(name) + by, len(names) - 1))
    done = move(model, name=name, source=under, under=under, at=place)
    return replace(done, words=f"{name} is input {place + 1} of {len(names)} of {under}.")


def remove(model: Model, *, name: str, under: str = "") -> Done:
    """The gate loses the input; what nothing uses any more is gone. A top event goes with all that only it uses."""
    find_element(model, name)
    if under:
        gate = find_gate(model, under)
        _find_input(gate, name)
        model = put(model, with_inputs(gate, tuple(item for item in inputs_of(gate) if item.name != name)))
    elif len([top for top in model.gates if not users_of(model, top)]) == 1:
        raise EditRefused(f"{name} is the only top event.", "Remove what is under it, or discard the draft.", "name")
    elif users_of(model, name):
        raise EditRefused(f"{name} is used by a gate.", "Choose it there.", "under")
    if users_of(model, name):
        return Done(model, f"{name} is no input of {under} any more; other gates still use it.", under)
    gone = _only_below(model, name)
    said = f" with {len(gone) - 1} below it" if len(gone) > 1 else ""
    torn = [g.name for g in model.common_cause_groups.values() if any(member in gone for member in g.members)]
    said_groups = f" Common-cause group {', '.join(torn)} has lost members." if torn else ""
    return Done(drop(model, gone), f"{name} is removed{said}.{said_groups}", under)


def _attach(model: Model, element: Element, under: str, what: str) -> Done:
    if not under:
        if not isinstance(element, Gate):
            raise EditRefused("An event stands under a gate.", "Choose a gate first.", "under")
        return Done(put(model, element), f"{what} is a new top event.", element.name)
    gate = find_gate(model, under)
    refuse_transfer(gate, "under")
    if any(item.name == element.name for item in inputs_of(gate)):
        raise EditRefused(f"{under} has {element.name} as an input already.", "Choose another.", "name")
    model = put(model, element, with_inputs(gate, (*inputs_of(gate), Input(element.name))))
    return Done(model, f"{what} is added under {under}.", element.name, under)


def _stay(model: Model, done: Done, under: str) -> Done:
    """Keep the gate chosen to which something was added, so that the next one can follow at once."""
    users = users_of(model, under)
    return replace(done, chosen=under, under=users[0] if users else "")


def _first(model: Model, gate: Gate) -> Model:
    return replace(model, gates={gate.name: gate, **model.gates})


def _find_input(gate: Gate, name: str) -> Input:
    for item in inputs_of(gate):
        if item.name == name:
            return item
    raise EditRefused(f"{name} is no input of {gate.name}.", "Choose it where it stands.", "name")


def _refuse_circle(model: Model, name: str, under: str) -> None:
    find_gate(model, under)
    if under in set(walk_below(model, name)):
        what = "itself" if name == under else f"{under}, which is below it"
        raise EditRefused(f"{name} can't stand under {what}.", "Choose a gate outside its branch.", "under")


def _copy_element(element: Element, renamed: dict[str, str]) -> Element:
    placing = replace(element.placing, role="public")
    new = replace(element, name=renamed[element.name], placing=placing)
    if isinstance(new, Gate):
        inputs = tuple(replace(item, name=renamed.get(item.name, item.name)) for item in inputs_of(new))
        return with_inputs(new, inputs)
    return new


def _only_below(model: Model, root: str) -> set[str]:
    """Return an unused element and everything below it that nothing else uses."""
    below = set(walk_below(model, root))
    kept: set[str] = set()
    for gate in model.gates.values():
        if gate.name not in below:
            for item in inputs_of(gate):
                kept.update(walk_below(model, item.name))
    return below - kept
