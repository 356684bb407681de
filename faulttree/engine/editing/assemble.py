"""A model whose transfers are replaced by what they stand for: the branch of another tree, merged in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias

from faulttree.engine.editing.inputs import inputs_of, walk_below
from faulttree.engine.editing.marks import TRANSFER, with_mark
from faulttree.engine.editing.names import propose_name
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.parts import parameters_in
from faulttree.engine.model import (
    BasicEvent,
    Combination,
    CommonCauseGroup,
    Connective,
    Formula,
    Gate,
    HouseEvent,
    Model,
    Parameter,
    Reference,
    references,
)

NO_NAME = re.compile(r"[^A-Za-z0-9_-]")
"""What a name of the exchange format can't hold, and the dots of private names."""

Leaf: TypeAlias = "BasicEvent | HouseEvent | Parameter | CommonCauseGroup"


@dataclass(frozen=True, slots=True)
class Transferred:
    """What a gate stands for: a gate `top` of the tree called `tree`, whose own transfers are replaced already."""

    gate: str
    tree: str
    model: Model
    top: str


def assemble(model: Model, transfers: tuple[Transferred, ...], *, tree: str) -> Model:
    """Return the model of the tree called `tree` with its transfers replaced, in their order.

    Events, parameters and groups that are defined alike under one name are one and the same. A gate whose name has
    another meaning in `tree` is called `gate-in-othertree`. Raises BadModel for events, parameters and groups of one
    name that are defined differently, each with both trees and what to do.
    """
    for transferred in transfers:
        model = _merge(model, transferred, tree)
    return model


def take_branch(model: Model, root: str) -> Model:
    """Return the part of a model that is at and below a gate: gates, events, the parameters and groups they need.

    A common-cause group comes whole, with all its members, when one of them is in the branch.
    """
    if root not in model.gates:
        raise BadModel(Problem(f"There is no gate {root}.", "Choose a gate that is there.", root))
    below, waiting = {root}, [root]
    while waiting:
        gate = model.gates.get(waiting.pop())
        fresh = {name for name in references(gate.formula) if name not in below} if gate else set()
        below |= fresh
        waiting += fresh
    groups = {
        name: group for name, group in model.common_cause_groups.items() if any(m in below for m in group.members)
    }
    below.update(member for group in groups.values() for member in group.members)
    events = {name: event for name, event in model.basic_events.items() if name in below}
    return replace(
        model,
        gates={name: gate for name, gate in model.gates.items() if name in below},
        basic_events=events,
        house_events={name: house for name, house in model.house_events.items() if name in below},
        parameters=_used_parameters(model, events, groups),
        common_cause_groups=groups,
    )


def find_torn_groups(model: Model, root: str) -> list[str]:
    """Return the common-cause groups of which some members are below a gate alone, and others elsewhere too.

    model : flat. A member below the gate that the rest of the tree uses as well counts as elsewhere.
    """
    below = set(walk_below(model, root))
    outside = [gate for gate in model.gates.values() if gate.name not in below]
    used = {item.name for gate in outside for item in inputs_of(gate)} - {root}
    kept = {name for start in used for name in walk_below(model, start) if name in below}
    torn = []
    for group in model.common_cause_groups.values():
        here = [member for member in group.members if member in below]
        stay = [member for member in group.members if member not in below or member in kept]
        if here and len(stay) > 0 and (len(stay) < len(group.members) or len(here) < len(group.members)):
            torn.append(group.name)
    return torn


def _used_parameters(
    model: Model, events: Mapping[str, BasicEvent], groups: Mapping[str, CommonCauseGroup]
) -> dict[str, Parameter]:
    expressions = [event.expression for event in events.values() if event.expression is not None]
    for group in groups.values():
        expressions += [group.distribution, *(factor for _, factor in group.factors)]
    used: set[str] = set()
    while expressions:
        for name in parameters_in(expressions.pop()):
            if name not in used and name in model.parameters:
                used.add(name)
                expressions.append(model.parameters[name].expression)
    return {name: parameter for name, parameter in model.parameters.items() if name in used}


def _merge(model: Model, transferred: Transferred, tree: str) -> Model:
    branch = take_branch(transferred.model, transferred.top)
    problems = _find_clashes(model, branch, transferred, tree)
    if problems:
        raise BadModel(*problems)
    names = _name_gates(model, branch, transferred)
    gates = dict(model.gates)
    for name, gate in branch.gates.items():
        if names[name] not in gates:
            formula = _rename(gate.formula, names)
            placing = gate.placing if names[name] == name else replace(gate.placing, role="public")
            gates[names[name]] = Gate(names[name], formula, placing)
    placeholder = gates[transferred.gate]
    top = Combination(Connective.OR, (Reference(names[transferred.top]),))
    gates[transferred.gate] = replace(placeholder, formula=top, placing=with_mark(placeholder.placing, TRANSFER, ""))
    known = {container.path for container in model.containers}
    return replace(
        model,
        containers=(*model.containers, *(one for one in branch.containers if one.path not in known)),
        gates=gates,
        basic_events={**branch.basic_events, **model.basic_events},
        house_events={**branch.house_events, **model.house_events},
        parameters={**branch.parameters, **model.parameters},
        common_cause_groups={**branch.common_cause_groups, **model.common_cause_groups},
    )


def _name_gates(model: Model, branch: Model, transferred: Transferred) -> dict[str, str]:
    """Return what each gate of the branch is called in the model: as it is, unless the name means something else."""
    taken = {*model.gates, *model.basic_events, *model.house_events}
    others = {
        name
        for name, gate in branch.gates.items()
        if name in taken and (name not in model.gates or model.gates[name].formula != gate.formula)
    }
    while True:  # a gate over one that is another is another itself
        spread = {
            name
            for name, gate in branch.gates.items()
            if name in taken and name not in others and any(below in others for below in references(gate.formula))
        }
        if not spread:
            break
        others |= spread
    names = {name: name for name in branch.gates if name not in others}
    taken |= set(branch.gates) | set(branch.basic_events) | set(branch.house_events)
    for name in branch.gates:
        if name in others:
            names[name] = propose_name(NO_NAME.sub("-", f"{name}-in-{transferred.tree}"), taken)
            taken.add(names[name])
    return names


def _find_clashes(model: Model, branch: Model, transferred: Transferred, tree: str) -> list[Problem]:
    found: list[Problem] = []
    pairs = (
        ("Basic event", model.basic_events, branch.basic_events),
        ("House event", model.house_events, branch.house_events),
        ("Parameter", model.parameters, branch.parameters),
        ("Common-cause group", model.common_cause_groups, branch.common_cause_groups),
    )
    for kind, here, there in pairs:
        for name, element in there.items():
            if name in here and not _is_alike(here[name], element):
                found.append(_say_clash(kind, name, transferred, tree))
    gates_and_houses = {**dict.fromkeys(model.gates, "gate"), **dict.fromkeys(model.house_events, "house event")}
    for name in branch.basic_events:
        if name in gates_and_houses:
            found.append(_say_kinds(name, "basic event", gates_and_houses[name], transferred, tree))
    gates_and_events = {**dict.fromkeys(model.gates, "gate"), **dict.fromkeys(model.basic_events, "basic event")}
    for name in branch.house_events:
        if name in gates_and_events:
            found.append(_say_kinds(name, "house event", gates_and_events[name], transferred, tree))
    here_in = {member: group.name for group in model.common_cause_groups.values() for member in group.members}
    there_in = {member: group.name for group in branch.common_cause_groups.values() for member in group.members}
    for name in branch.basic_events:
        if name in model.basic_events and here_in.get(name) != there_in.get(name):
            message = f"Basic event {name} is in a common-cause group of one of the trees {tree} and {transferred.tree}"
            mend = "Put it into the same group in both, or rename it in one of them."
            found.append(Problem(f"{message}, and not in the same of the other.", mend, f"gate {transferred.gate}"))
    return found


def _is_alike(one: Leaf, other: Leaf) -> bool:
    """Tell whether two elements mean the same; titles and where they stand don't matter."""
    return replace(one, placing=other.placing) == other


def _say_clash(kind: str, name: str, transferred: Transferred, tree: str) -> Problem:
    message = f"{kind} {name} is defined in one way in {tree} and in another in {transferred.tree}."
    shared = kind in ("Basic event", "Parameter")
    mend = "Share it from the library, or rename it in one of the two." if shared else "Make them alike, or rename one."
    return Problem(message, mend, f"gate {transferred.gate}")


def _say_kinds(name: str, there: str, here: str, transferred: Transferred, tree: str) -> Problem:
    message = f"{name} is a {here} in {tree} and a {there} in {transferred.tree}."
    return Problem(message, "Rename one of the two.", f"gate {transferred.gate}")


def _rename(formula: Formula, names: Mapping[str, str]) -> Formula:
    """Return a formula with other names; recursion is as deep as it is nested."""
    if isinstance(formula, Reference):
        return Reference(names.get(formula.name, formula.name))
    if isinstance(formula, Combination):
        return replace(formula, arguments=tuple(_rename(argument, names) for argument in formula.arguments))
    return formula
