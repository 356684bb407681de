"""A model with effects put into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from faulttree.engine.editing.marks import LIBRARY, with_mark
from faulttree.engine.effects.checks import check_effects, name_additions
from faulttree.engine.effects.kinds import ADDING, Effect, EffectKind, find_clashes, group_by_target
from faulttree.engine.effects.structure import put_behind, rule_out
from faulttree.engine.effects.values import change_value, part_draws
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import Expression, Model, Number
from faulttree.engine.overrides import members_of_groups
from faulttree.engine.validate import check_model


def apply_effects(model: Model, effects: Sequence[Effect]) -> Model:
    """Return the model with all effects, a plain one that can be written as exchange XML.

    On one event: replaced, interval, multiplied, then detection and barriers; ruled out wins over its value. An event
    whose value changes isn't shared with the library any more. A member of a common-cause group is ruled out alone;
    the others keep their probabilities, what they share included. Raises BadModel for effects that can't be applied
    or don't go together, each with its event and the mend.
    """
    check_effects(model, effects)
    _refuse_clashes(effects)
    members = members_of_groups(model)
    names = name_additions(model, effects)
    changed = part_draws(model, effects)
    for target, together in group_by_target(effects).items():
        ruled_out = any(effect.kind == EffectKind.RULED_OUT for effect in together)
        additions = describe_additions(effects, names, target)
        if target in changed.basic_events and not ruled_out:
            changed = _revalue(changed, target, together)
        if additions:
            changed = put_behind(changed, target, additions)
        if ruled_out:
            changed = rule_out(changed, target, is_member=target in members)
    check_model(changed)
    return changed


def describe_additions(
    effects: Sequence[Effect], names: dict[int, str], target: str
) -> dict[str, tuple[str, Expression]]:
    """Return label and expression of each event that stands behind a target."""
    found: dict[str, tuple[str, Expression]] = {}
    for place, effect in enumerate(effects):
        if effect.target == target and place in names:
            found[names[place]] = _describe(effect)
    return found


def _describe(effect: Effect) -> tuple[str, Expression]:
    by = f" ({effect.option})" if effect.option else ""
    if effect.kind == EffectKind.BARRIER:
        return f"The barrier behind {effect.target} fails{by}", Number(effect.amount)
    return f"{effect.target} is not revealed and dealt with in time{by}", Number(1.0 - effect.amount)


def _revalue(model: Model, name: str, effects: Sequence[Effect]) -> Model:
    effects = [effect for effect in effects if effect.kind not in ADDING]
    if not effects:
        return model
    event = model.basic_events[name]
    placing = with_mark(event.placing, LIBRARY, "")
    new = replace(event, expression=change_value(model, name, effects), placing=placing)
    return replace(model, basic_events={**model.basic_events, name: new})


def _refuse_clashes(effects: Sequence[Effect]) -> None:
    problems = [
        Problem(
            f"{' and '.join(sorted(pair))} can't hold together: they want different values for the same event.",
            "Choose one of them.",
            "effects",
        )
        for pair in sorted(find_clashes(effects), key=sorted)
    ]
    if problems:
        raise BadModel(*problems)
