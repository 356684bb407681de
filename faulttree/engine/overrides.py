"""What is different in a variant of a model, and the model with those differences.

In JSON, with every part left out that is empty:

    {"events": {"PUMP-A": false, "VALVE": true, "SEAL": 1e-4, "HOSE": {"exponential": ["rate", 8]}},
     "houses": {"winter": true},
     "parameters": {"rate": 2e-6},
     "mission_time": 12}

false is an event that can't occur, true one that is certain; the rest are expressions as in
exchange/json_values.py. exchange/json_overrides.py reads and writes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.parts import parameters_in
from faulttree.engine.model import Expression, HouseEvent, Model
from faulttree.engine.problems import suggest_name
from faulttree.engine.validate import check_model

PLACE = "overrides"


@dataclass(frozen=True, slots=True)
class Overrides:
    """What is put in place of what the model says; empty changes nothing.

    events : basic event -> False (ruled out), True (certain) or another expression. Also a member of a
        common-cause group, and an event that writing out a group gives (`pumps-all`).
    houses : house event -> its switch
    parameters : parameter -> another expression
    mission_time : hours; None keeps that of the request
    """

    events: Mapping[str, bool | Expression] = field(default_factory=dict)
    houses: Mapping[str, bool] = field(default_factory=dict)
    parameters: Mapping[str, Expression] = field(default_factory=dict)
    mission_time: float | None = None

    def __bool__(self) -> bool:
        return bool(self.events or self.houses or self.parameters) or self.mission_time is not None


def apply_overrides(model: Model, overrides: Overrides) -> Model:
    """Return the model with the overrides; the mission time, which is no part of a model, is the caller's.

    An event that is ruled out or certain becomes a house event of its name, so gates keep their inputs and
    minimal cut sets are those that are left. A member of a common-cause group is set alone: the group stays
    as it is for the other members, whose probabilities don't change. Its own probability follows from the
    group and can't be overridden. To change what members share, override an event of the group that is
    written out. Raises BadModel for every name that isn't in the model, and for what the model can't be
    checked with (a circle of parameters, a probability above 1).
    """
    if not (overrides.events or overrides.houses or overrides.parameters):
        return model
    problems = find_problems(model, overrides)
    if problems:
        raise BadModel(*problems)
    parameters = dict(model.parameters)
    for name, expression in overrides.parameters.items():
        parameters[name] = replace(parameters[name], expression=expression)
    houses = dict(model.house_events)
    for name, value in overrides.houses.items():
        houses[name] = replace(houses[name], value=value)
    changed = replace(model, parameters=parameters, house_events=houses)
    if any(name in members_of_groups(model) or name not in model.basic_events for name in overrides.events):
        check_model(changed)  # before the groups, whose checks then no longer apply, are written out
        changed = expand_common_cause(changed)
    changed = _with_events(changed, overrides.events)
    check_model(changed)
    return changed


def _with_events(model: Model, settings: Mapping[str, bool | Expression]) -> Model:
    gates, events, houses = dict(model.gates), dict(model.basic_events), dict(model.house_events)
    for name, setting in settings.items():
        if isinstance(setting, bool):
            placing = (events.pop(name, None) or gates.pop(name)).placing  # a member of a group is a gate by now
            houses[name] = HouseEvent(name, setting, placing)
        else:
            events[name] = replace(events[name], expression=setting)
    return replace(model, gates=gates, basic_events=events, house_events=houses)


def members_of_groups(model: Model) -> dict[str, str]:
    """Return the group of each basic event that is a member of one."""
    return {member: group.name for group in model.common_cause_groups.values() for member in group.members}


def find_problems(model: Model, overrides: Overrides) -> tuple[Problem, ...]:
    """Return what refers to nothing in the model, or to what can't be overridden so; each problem names it."""
    expanded = expand_common_cause(model)
    members = members_of_groups(model)
    known = {**model.basic_events, **expanded.basic_events}
    found = []
    for name, setting in overrides.events.items():
        if name not in known:
            found.append(_unknown("basic event", name, known))
        elif isinstance(setting, bool):
            continue
        elif name in members:
            message = f"The probability of {name} follows from its common-cause group {members[name]}."
            mend = (
                "Rule it out, make it certain, or override a parameter of the group or an event it is written out to."
            )
            found.append(Problem(message, mend, f"{PLACE}, event {name}"))
        else:
            found += _unknown_parameters(expanded, f"event {name}", setting)
    found += [
        _unknown("house event", name, model.house_events) for name in overrides.houses if name not in model.house_events
    ]
    for name, expression in overrides.parameters.items():
        if name not in model.parameters:
            found.append(_unknown("parameter", name, model.parameters))
        else:
            found += _unknown_parameters(model, f"parameter {name}", expression)
    return tuple(found)


def _unknown(kind: str, name: str, known: Iterable[str]) -> Problem:
    mend = suggest_name(name, known, "Take it out of the overrides, or correct the name.")
    return Problem(f"There is no {kind} {name}.", mend, PLACE)


def _unknown_parameters(model: Model, where: str, expression: Expression) -> list[Problem]:
    return [
        Problem(
            f"There is no parameter {name}.",
            suggest_name(name, model.parameters, "Correct the name, or give a number."),
            f"{PLACE}, {where}",
        )
        for name in dict.fromkeys(parameters_in(expression))
        if name not in model.parameters
    ]
