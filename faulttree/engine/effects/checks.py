"""What is wrong with effects on a model, each with the event and the mend; and what their new events are called."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence

from faulttree.engine.editing.names import propose_name
from faulttree.engine.effects.kinds import ADDING, Effect, EffectKind, do_clash, group_by_target
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.exchange.names import NAME, NAME_RULE
from faulttree.engine.model import Model
from faulttree.engine.overrides import members_of_groups
from faulttree.engine.problems import suggest_name

_VALUE = (EffectKind.MULTIPLIED, EffectKind.REPLACED, EffectKind.INTERVAL)


def check_effects(model: Model, effects: Sequence[Effect]) -> None:
    """Raise BadModel for targets and amounts that can't be, for one option that contradicts itself, for taken names."""
    problems = [problem for effect in effects for problem in _check(model, effect)]
    for target, together in group_by_target(effects).items():
        for one, other in itertools.combinations(together, 2):
            if one.option == other.option and do_clash(one, other):
                message = f"{one.option or 'An option'} wants two different things for {target}."
                problems.append(Problem(message, "Take one of its effects back.", f"basic event {target}"))
    problems += _check_names(model, effects)
    if problems:
        raise BadModel(*problems)


def name_additions(model: Model, effects: Sequence[Effect]) -> dict[int, str]:
    """Return the name of the new event of each barrier and detection, by its place among the effects."""
    taken = {*model.gates, *model.basic_events, *model.house_events}
    taken.update(effect.new_event for effect in effects)
    found = {}
    for place, effect in enumerate(effects):
        if effect.kind not in ADDING:
            continue
        name = effect.new_event
        if not name:
            what = "barrier" if effect.kind == EffectKind.BARRIER else "undetected"
            name = propose_name(write_name(effect.target, what, effect.option), taken)
            taken.add(name)
        found[place] = name
    return found


def write_name(*parts: str) -> str:
    """Return a name that the format can hold, made of the parts that aren't empty."""
    name = re.sub(r"[^\w-]+", "-", "-".join(part for part in parts if part))
    return (name if NAME.match(name) else f"E-{name}")[:180]


def _check(model: Model, effect: Effect) -> list[Problem]:
    where = f"basic event {effect.target}"
    fault = _check_target(model, effect) or _check_amount(effect)
    if fault is None and effect.of not in ("probability", "rate"):
        fault = (f"“{effect.of}” can't be changed.", "Say probability or rate.")
    return [Problem(*fault, where)] if fault else []


def _check_target(model: Model, effect: Effect) -> tuple[str, str] | None:
    target = effect.target
    if target in model.gates:
        if effect.kind == EffectKind.BARRIER:
            return None
        return f"{target} is a gate.", "Put a barrier behind it, or choose a basic event below it."
    if target in model.basic_events:
        group = members_of_groups(model).get(target)
        if group and effect.kind in _VALUE:
            mend = f"Rule it out, put a barrier behind it, or change a parameter of {group} in the tree."
            return f"The probability of {target} follows from its common-cause group {group}.", mend
        return None
    if target in model.house_events:
        return f"{target} is a house event, which is set and has no probability.", "Choose a basic event."
    if target in expand_common_cause(model).basic_events:
        mend = "Choose a member of the group, or change a parameter of the group in the tree."
        return f"{target} is what a common-cause group is written out to.", mend
    return f"There is no event {target}.", suggest_name(target, {**model.basic_events, **model.gates})


def _check_amount(effect: Effect) -> tuple[str, str] | None:
    amount, kind = effect.amount, effect.kind
    if kind == EffectKind.RULED_OUT:
        return None
    told = f"The amount is {amount:g}."
    if not math.isfinite(amount) or amount < 0.0:
        return told, "Give a number, 0 or more."
    if kind == EffectKind.INTERVAL and amount == 0.0:
        return told, "Give hours between tests, more than 0."
    is_probability = kind in ADDING or (kind == EffectKind.REPLACED and effect.of == "probability")
    if is_probability and amount > 1.0:
        return told, "Give 0 to 1."
    return None


def _check_names(model: Model, effects: Sequence[Effect]) -> list[Problem]:
    known: Mapping[str, object] = {**model.gates, **model.basic_events, **model.house_events}
    named: dict[str, tuple[str, EffectKind, float]] = {}
    problems = []
    for effect in effects:
        name = effect.new_event
        if effect.kind not in ADDING or not name:
            continue
        where = f"new event {name}"
        if not NAME.match(name):
            problems.append(Problem("This can't be a name.", NAME_RULE, where))
        elif name in known:
            problems.append(Problem("The tree has something of this name.", "Call the new event otherwise.", where))
        elif named.setdefault(name, (effect.option, effect.kind, effect.amount)) != (
            effect.option,
            effect.kind,
            effect.amount,
        ):
            problems.append(Problem("Two effects add an event of this name.", "Call one of them otherwise.", where))
    return problems
