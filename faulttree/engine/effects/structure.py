"""What stands behind an event or gate: references to it lead through a gate that asks for more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from faulttree.engine.editing.names import propose_name
from faulttree.engine.effects.checks import write_name
from faulttree.engine.model import (
    BasicEvent,
    Combination,
    Connective,
    Expression,
    Formula,
    Gate,
    HouseEvent,
    Model,
    Placing,
    Reference,
)


def put_behind(model: Model, target: str, additions: Mapping[str, tuple[str, Expression]]) -> Model:
    """Return a model in which the target passes only if every new event occurs too.

    additions : name of a new event -> its label and expression; one that is there already is used as it is
    A basic event keeps its name and value, and all that used it uses an AND of it and the new events. A gate keeps its
    name, so that a top event stays one; what it was made of is a gate below it.
    """
    home = _placing_of(model, target)
    events = dict(model.basic_events)
    for name, (label, expression) in additions.items():
        events.setdefault(name, BasicEvent(name, expression, Placing(home.path, "public", label)))
    taken = {*model.gates, *events, *model.house_events}
    behind = tuple(Reference(name) for name in additions)
    gates = dict(model.gates)
    if target in gates:
        inner = propose_name(write_name(target, "unguarded"), taken)
        gates[inner] = replace(gates[target], name=inner)
        gates[target] = Gate(target, _and(inner, behind), Placing(home.path, home.role, home.label))
        if home.role != "public":
            gates[inner] = replace(gates[inner], placing=replace(home, role="public"))
        return replace(model, gates=gates, basic_events=events)
    passes = propose_name(write_name(target, "passes"), taken)
    redirected = {name: _redirect(gate, target, passes) for name, gate in gates.items()}
    if all(redirected[name] is gate for name, gate in gates.items()):
        return model  # nothing uses it, and a gate of it alone would be one more top event
    gates = redirected
    label = f"{home.label or target}, not held by {', '.join(additions)}"
    gates[passes] = Gate(passes, _and(target, behind), Placing(home.path, "public", label))
    return replace(model, gates=gates, basic_events=events)


def rule_out(model: Model, target: str, *, is_member: bool) -> Model:
    """Return a model in which the event can't occur: a house event of its name.

    A member of a common-cause group stays in it, for the others: what used the member uses a house event instead.
    """
    houses, events = dict(model.house_events), dict(model.basic_events)
    placing = events[target].placing
    if not is_member:
        del events[target]
        houses[target] = HouseEvent(target, False, replace(placing, attributes=()))
        return replace(model, basic_events=events, house_events=houses)
    name = propose_name(write_name(target, "ruled-out"), {*model.gates, *events, *houses})
    houses[name] = HouseEvent(name, False, Placing(placing.path, "public", f"{placing.label or target}, ruled out"))
    gates = {key: _redirect(gate, target, name) for key, gate in model.gates.items()}
    return replace(model, gates=gates, house_events=houses)


def _placing_of(model: Model, name: str) -> Placing:
    gate = model.gates.get(name)
    return gate.placing if gate else model.basic_events[name].placing


def _and(name: str, behind: Sequence[Reference]) -> Combination:
    return Combination(Connective.AND, (Reference(name), *behind))


def _redirect(gate: Gate, old: str, new: str) -> Gate:
    formula = _replace(gate.formula, old, new)
    return gate if formula is gate.formula else replace(gate, formula=formula)


def _replace(formula: Formula, old: str, new: str) -> Formula:
    """Recursion is as deep as one formula is nested, which readers limit; what isn't changed is the same object."""
    if isinstance(formula, Reference):
        return Reference(new) if formula.name == old else formula
    if not isinstance(formula, Combination):
        return formula
    arguments = tuple(_replace(argument, old, new) for argument in formula.arguments)
    if all(a is b for a, b in zip(arguments, formula.arguments, strict=True)):
        return formula
    return replace(formula, arguments=arguments)
