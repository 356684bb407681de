"""Edits of common-cause groups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from faulttree.engine.editing.done import Done
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.names import check_name
from faulttree.engine.model import CommonCauseGroup, Expression, Model, Placing

GROUP_MODELS = {
    "beta-factor": "Beta factor",
    "MGL": "Multiple Greek letters",
    "alpha-factor": "Alpha factor",
    "phi-factor": "Phi factor",
}


def needed_levels(model: str, members: int) -> list[int]:
    """Return the levels for which a model needs a factor, in rising order."""
    if model == "beta-factor":
        return [members]
    return list(range(2 if model == "MGL" else 1, members + 1))


def set_group(
    model: Model,
    *,
    name: str,
    kind: str,
    members: Sequence[str],
    distribution: Expression,
    factors: Mapping[int, Expression],
) -> Done:
    """A common-cause group of these members is there; their own probabilities give way to the group's."""
    known = model.common_cause_groups.get(name)
    if known is None:
        name = check_name(name, model.common_cause_groups)
    if kind not in GROUP_MODELS:
        raise EditRefused(f"There is no common-cause model {kind}.", "Choose one of the four.", "kind")
    members = tuple(dict.fromkeys(members))
    if len(members) < 2:
        raise EditRefused("A common-cause group has at least two members.", "Choose more basic events.", "members")
    for member in members:
        if member not in model.basic_events:
            raise EditRefused(f"{member} is no basic event.", "Choose basic events.", "members")
        other = next((g.name for g in model.common_cause_groups.values() if member in g.members), name)
        if other != name:
            raise EditRefused(f"{member} is in the group {other} already.", "An event is in one group.", "members")
    levels = needed_levels(kind, len(members))
    missing = [str(level) for level in levels if level not in factors]
    if missing:
        raise EditRefused(f"Factor {', '.join(missing)} is missing.", "Give a number from 0 to 1.", "factors")
    group = CommonCauseGroup(
        name,
        kind,
        tuple(members),
        distribution,
        tuple((level, factors[level]) for level in levels),
        known.placing if known else Placing(),
    )
    groups = {**model.common_cause_groups, name: group}
    words = f"Common-cause group {name} is {'changed' if known else 'new'}: {', '.join(members)}."
    return Done(replace(model, common_cause_groups=groups), words)


def remove_group(model: Model, *, name: str) -> Done:
    """The group is gone; its members are independent again, each with the probability it had before or none."""
    group = model.common_cause_groups.get(name)
    if group is None:
        raise EditRefused(f"There is no common-cause group {name}.", "Choose one that is there.", "name")
    groups = {other: kept for other, kept in model.common_cause_groups.items() if other != name}
    return Done(replace(model, common_cause_groups=groups), f"Common-cause group {name} is removed.")
