"""What options do to a tree, with the library's values of today: benefit, best choice, and what can be changed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from config.kit.errors import BadInput
from faulttree.assembly import hash_current, read_current
from faulttree.engine.budget import Budget
from faulttree.engine.effects.checks import check_effects
from faulttree.engine.effects.choose import Choice, choose_options
from faulttree.engine.effects.kinds import Effect, EffectKind, Limits, Option
from faulttree.engine.effects.values import change_value, has_rate, is_tested
from faulttree.engine.effects.weigh import Weighed, weigh_options
from faulttree.engine.errors import BadModel, LimitReached, Problem
from faulttree.engine.model import Model
from faulttree.engine.overrides import members_of_groups
from faulttree.models import TreeRevision
from faulttree.reads.boxes import Box
from faulttree.reads.parts import read_parts

SECONDS, NODES, MEMORY_MIB = 8.0, 4_000_000, 1024
"""The budget of one answer: a person waits for it."""
SAMPLES = 1000
MOST_SUBSETS, SOLVER_SECONDS = 1 << 14, 6.0


class NoBenefit(BadInput):
    """What the options do can't be had; the message says why, and the mend."""

    default_code = "no_benefit"


@dataclass(frozen=True, slots=True)
class Target:
    """A basic event or gate below the top event, and what effects can be had on it."""

    name: str
    label: str
    is_gate: bool
    has_rate: bool = False
    is_tested: bool = False
    group: str = ""


def list_targets(revision: TreeRevision, top: str) -> list[Target]:
    """Return what an effect can be on: the basic events below a gate as the tree has them, then the gates.

    Members of common-cause groups are named as the tree names them, not as they are written out. Raises BadAssembly.
    """
    model = read_current(revision)
    groups = members_of_groups(model)
    below = read_parts(revision, top).by_name
    events = [model.basic_events[name] for name in below if name in model.basic_events]
    found = [
        Target(
            each.name,
            each.placing.label,
            False,
            has_rate(model, each.name),
            is_tested(model, each.name),
            groups.get(each.name, ""),
        )
        for each in events
    ]
    gates = [model.gates[name] for name in below if name in model.gates]
    return found + [Target(each.name, each.placing.label, True) for each in gates]


def check_effect(revision: TreeRevision, effect: Effect) -> None:
    """Raise NoBenefit where an effect can't be had on the tree; fields: new_event, amount or kind."""
    model = read_current(revision)
    try:
        check_effects(model, [effect])
        if effect.kind in (EffectKind.MULTIPLIED, EffectKind.REPLACED, EffectKind.INTERVAL):
            change_value(model, effect.target, [effect])
    except BadModel as error:
        told = {_find_field(each): [f"{each.message} {each.mend}"] for each in error.problems}
        raise NoBenefit(" ".join(words for (words,) in told.values()), fields=told) from None


def _find_field(problem: Problem) -> str:
    """Return what of an effect a problem is about: its new event, its amount, or what is done to which event."""
    if problem.element.startswith("new event"):
        return "new_event"
    return "amount" if problem.message.startswith("The amount") else "kind"


def read_benefit(
    revision: TreeRevision, top: str, mission_time: float | None, options: Sequence[Option], effects: Sequence[Effect]
) -> Weighed:
    """Return what each option does, alone and with the others; mission_time in hours. Raises NoBenefit, BadAssembly."""
    key = (revision.pk, revision.sha256, hash_current(revision))
    return _weigh(key, top, mission_time, tuple(options), tuple(effects), Box(revision))


def read_choice(
    revision: TreeRevision,
    top: str,
    mission_time: float | None,
    options: Sequence[Option],
    effects: Sequence[Effect],
    limits: Limits,
    *,
    must: Collection[str] = (),
    excludes: Collection[frozenset[str]] = (),
    needs: Collection[tuple[str, str]] = (),
) -> Choice:
    """Return the best set of options within the limits; see `choose_options`. Raises NoBenefit, BadAssembly."""
    try:
        return choose_options(
            read_current(revision),
            top,
            options,
            effects,
            limits,
            must=must,
            excludes=excludes,
            needs=needs,
            mission_time=mission_time,
            budget=_budget(),
            most_subsets=MOST_SUBSETS,
            seconds=SOLVER_SECONDS,
        )
    except (BadModel, LimitReached) as error:
        raise _refuse(error) from None


@lru_cache(maxsize=64)
def _weigh(
    key: tuple[Any, ...],
    top: str,
    hours: float | None,
    options: tuple[Option, ...],
    effects: tuple[Effect, ...],
    box: Box[TreeRevision],
) -> Weighed:
    model: Model = read_current(box.value)
    try:
        return weigh_options(model, top, options, effects, mission_time=hours, budget=_budget(), samples=SAMPLES)
    except (BadModel, LimitReached) as error:
        raise _refuse(error) from None


def _budget() -> Budget:
    return Budget(nodes=NODES, seconds=SECONDS, memory_mib=MEMORY_MIB)


def _refuse(error: BadModel | LimitReached) -> NoBenefit:
    if isinstance(error, LimitReached):
        return NoBenefit(f"The exact figures take longer than this page waits for. {error} Split the tree.")
    return NoBenefit(str(error))
