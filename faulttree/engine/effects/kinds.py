"""What an option does to a model, what it takes, and which options can't hold together."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum


class EffectKind(StrEnum):
    """What is done to an event or gate."""

    RULED_OUT = "ruled_out"
    MULTIPLIED = "multiplied"
    REPLACED = "replaced"
    INTERVAL = "interval"
    BARRIER = "barrier"
    DETECTION = "detection"


ADDING = (EffectKind.BARRIER, EffectKind.DETECTION)
"""Kinds that add an event."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What one option does to one event or gate.

    option : key of the option; several effects may have the same
    target : a basic event; for a barrier also a gate
    amount : MULTIPLIED: the factor, 0 or more. REPLACED: the probability, or the rate per hour. INTERVAL: hours
        between tests. BARRIER: probability that the barrier fails. DETECTION: share that is revealed and dealt with
        in time. Not used where the event is ruled out.
    of : "probability" or "rate": what is multiplied or replaced
    new_event : name of the event that a barrier or a detection adds; empty: one is made of target and option. The same
        name twice in one option is one barrier before two targets.
    """

    option: str
    kind: EffectKind
    target: str
    amount: float = math.nan
    of: str = "probability"
    new_event: str = ""


RESOURCES = ("cost", "mass", "crew_hours", "lead_days")


@dataclass(frozen=True, slots=True)
class Option:
    """What an option takes: cost in any unit, mass in kg, crew hours, and days until it is in place."""

    key: str
    cost: float = 0.0
    mass: float = 0.0
    crew_hours: float = 0.0
    lead_days: float = 0.0


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that a set of options may take, in the units of `Option`; None is no limit.

    Cost, mass and crew hours add up; lead days are those of the slowest, as options are prepared side by side.
    """

    cost: float | None = None
    mass: float | None = None
    crew_hours: float | None = None
    lead_days: float | None = None


def find_clashes(effects: Iterable[Effect]) -> set[frozenset[str]]:
    """Return the pairs of options that can't hold together: they want different values for the same thing."""
    clashes = set()
    for together in group_by_target(effects).values():
        for one, other in itertools.combinations(together, 2):
            if one.option != other.option and do_clash(one, other):
                clashes.add(frozenset((one.option, other.option)))
    return clashes


def do_clash(one: Effect, other: Effect) -> bool:
    """Tell whether two effects on the same event can't both hold.

    Two values, or two test intervals, that differ; and a probability put in place of a model whose rate or interval
    the other one changes.
    """
    if one.kind == other.kind == EffectKind.REPLACED:
        return (one.of, one.amount) != (other.of, other.amount)
    if one.kind == other.kind == EffectKind.INTERVAL:
        return one.amount != other.amount
    return any(_takes_the_model(a) and _needs_the_model(b) for a, b in ((one, other), (other, one)))


def _takes_the_model(effect: Effect) -> bool:
    return effect.kind == EffectKind.REPLACED and effect.of == "probability"


def _needs_the_model(effect: Effect) -> bool:
    return effect.kind == EffectKind.INTERVAL or (effect.kind == EffectKind.MULTIPLIED and effect.of == "rate")


def group_by_target(effects: Iterable[Effect]) -> dict[str, list[Effect]]:
    """Return the effects on each target, in their order."""
    found: dict[str, list[Effect]] = {}
    for effect in effects:
        found.setdefault(effect.target, []).append(effect)
    return found


def list_options(effects: Sequence[Effect]) -> tuple[str, ...]:
    """Return the options that have effects, in the order in which they come first."""
    return tuple(dict.fromkeys(effect.option for effect in effects))
