"""Which elements of a model are called otherwise in a later state of it: only where there is no doubt."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

from faulttree.engine.events.parts import parameters_in
from faulttree.engine.model import (
    Call,
    Combination,
    Expression,
    Formula,
    Model,
    ParameterReference,
    Reference,
    references,
)

Place: TypeAlias = tuple[str, str, int]
"""Kind and name of what uses an element, and the position in it."""
Places: TypeAlias = Mapping[str, frozenset[Place]]
Taken: TypeAlias = tuple[set[str], set[str]]


@dataclass(frozen=True, slots=True)
class Renames:
    """Old name -> new name: of gates and events, of parameters, of common-cause groups."""

    elements: Mapping[str, str] = field(default_factory=dict)
    parameters: Mapping[str, str] = field(default_factory=dict)
    groups: Mapping[str, str] = field(default_factory=dict)


def find_renames(before: Model, after: Model) -> Renames:
    """Return the renames that are certain.

    An element is renamed when one that is gone and one that is new have the same definition and title, stand in
    exactly the same places, and no other pair of that kind does. Everything else counts as removed and added.
    """
    found = Renames()
    while True:
        now = rename(before, found)
        there, here = _places(now), _places(after)
        taken = {*_names(before), *_names(now)}, set(_names(after))
        elements = {
            **_pairs(now.gates, after.gates, there, here, taken),
            **_pairs(now.basic_events, after.basic_events, there, here, taken),
            **_pairs(now.house_events, after.house_events, there, here, taken),
        }
        parameters = _pairs(now.parameters, after.parameters, _uses(now), _uses(after))
        groups = _pairs(now.common_cause_groups, after.common_cause_groups, {}, {})
        if not (elements or parameters or groups):
            return found
        found = Renames({**found.elements, **elements}, {**found.parameters, **parameters}, {**found.groups, **groups})


def rename(model: Model, renames: Renames) -> Model:
    """Return the model in which everything has its new name, in every place."""
    names, parameters = renames.elements, renames.parameters
    if not (names or parameters or renames.groups):
        return model

    def value(expression: Expression) -> Expression:
        return _rename_expression(expression, parameters) if parameters else expression

    groups = [
        replace(
            group,
            name=renames.groups.get(group.name, group.name),
            members=tuple(names.get(member, member) for member in group.members),
            distribution=value(group.distribution),
            factors=tuple((level, value(factor)) for level, factor in group.factors),
        )
        for group in model.common_cause_groups.values()
    ]
    gates = [
        replace(g, name=names.get(g.name, g.name), formula=_rename_formula(g.formula, names))
        for g in model.gates.values()
    ]
    events = [
        replace(e, name=names.get(e.name, e.name), expression=value(e.expression) if e.expression else None)
        for e in model.basic_events.values()
    ]
    houses = [replace(house, name=names.get(house.name, house.name)) for house in model.house_events.values()]
    shared = [
        replace(p, name=parameters.get(p.name, p.name), expression=value(p.expression))
        for p in model.parameters.values()
    ]
    return replace(
        model,
        gates={gate.name: gate for gate in gates},
        basic_events={event.name: event for event in events},
        house_events={house.name: house for house in houses},
        parameters={parameter.name: parameter for parameter in shared},
        common_cause_groups={group.name: group for group in groups},
    )


def _pairs(
    before: Mapping[str, Any], after: Mapping[str, Any], there: Places, here: Places, taken: Taken = (set(), set())
) -> dict[str, str]:
    """Return old -> new of those that are alike and alone in it; `taken` by another kind, before and after, are not."""
    olds, news = defaultdict(list), defaultdict(list)
    for name in before:
        if name not in after:
            olds[_bare(before[name]), there.get(name, frozenset())].append(name)
    for name in after:
        if name not in before:
            news[_bare(after[name]), here.get(name, frozenset())].append(name)
    found = {names[0]: news[key][0] for key, names in olds.items() if len(names) == 1 and len(news.get(key, ())) == 1}
    return {old: new for old, new in found.items() if new not in taken[0] and old not in taken[1]}


def _names(model: Model) -> Iterator[str]:
    yield from model.gates
    yield from model.basic_events
    yield from model.house_events


def _bare(element: Any) -> Any:
    """Return the element without what a rename changes: its name, and that a private one becomes public."""
    return replace(element, name="", placing=replace(element.placing, role=""))


def _places(model: Model) -> Places:
    found: dict[str, set[Place]] = defaultdict(set)
    for gate in model.gates.values():
        for position, name in enumerate(references(gate.formula)):
            found[name].add(("gate", gate.name, position))
    for group in model.common_cause_groups.values():
        for position, name in enumerate(group.members):
            found[name].add(("group", group.name, position))
    return {name: frozenset(places) for name, places in found.items()}


def _uses(model: Model) -> Places:
    found: dict[str, set[Place]] = defaultdict(set)
    for kind, user, expressions in _expressions(model):
        for position, name in enumerate(name for each in expressions for name in parameters_in(each)):
            found[name].add((kind, user, position))
    return {name: frozenset(places) for name, places in found.items()}


def _expressions(model: Model) -> Iterator[tuple[str, str, tuple[Expression, ...]]]:
    for event in model.basic_events.values():
        yield "event", event.name, (event.expression,) if event.expression else ()
    for parameter in model.parameters.values():
        yield "parameter", parameter.name, (parameter.expression,)
    for group in model.common_cause_groups.values():
        yield "group", group.name, (group.distribution, *(factor for _, factor in group.factors))


def _rename_formula(formula: Formula, names: Mapping[str, str]) -> Formula:
    if isinstance(formula, Reference):
        return Reference(names[formula.name]) if formula.name in names else formula
    if isinstance(formula, Combination):
        return replace(formula, arguments=tuple(_rename_formula(argument, names) for argument in formula.arguments))
    return formula


def _rename_expression(expression: Expression, names: Mapping[str, str]) -> Expression:
    if isinstance(expression, ParameterReference):
        return ParameterReference(names.get(expression.name, expression.name))
    if isinstance(expression, Call):
        return Call(expression.function, tuple(_rename_expression(part, names) for part in expression.arguments))
    return expression
