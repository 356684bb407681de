"""What options do to a top event: before, each alone, all together, all but one, and step by step."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from faulttree.engine.budget import Budget, Watch
from faulttree.engine.effects.compiled import Compiled, Sets, compile_options
from faulttree.engine.effects.figures import Figure, find_figures
from faulttree.engine.effects.kinds import Effect, Option, find_clashes
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import Model

MOST_SAMPLES = 100_000


@dataclass(frozen=True, slots=True)
class Step:
    """One more option, on top of those before it."""

    option: str
    probability: float


@dataclass(frozen=True, slots=True)
class Interaction:
    """How far options that act together differ from the sum of what each does alone.

    recomputed : reduction of the top-event probability by all together
    summed : sum of the reductions by each alone; more than was there where options catch the same failures
    product : probability by the product form, before * product of (alone / before): right for a tree in which each
        option scales the whole probability
    """

    recomputed: float
    summed: float
    product: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """The answer of `weigh_options`; probabilities are exact, ranges are sampled with the same draws for all.

    alone, without : option -> figure with it alone, with all others but it; None where options clash
    together : None where options clash
    clashes : pairs that can't hold together
    steps : largest further reduction first, each recomputed; options that clash with an earlier one are left out
    is_uncertain : whether some parameter is; without samples no figure has a range
    """

    before: Figure
    alone: dict[str, Figure]
    together: Figure | None
    without: dict[str, Figure | None]
    clashes: tuple[tuple[str, str], ...]
    steps: tuple[Step, ...]
    interaction: Interaction | None
    is_uncertain: bool
    notes: tuple[str, ...]


def weigh_options(
    model: Model,
    top: str,
    options: Sequence[Option],
    effects: Sequence[Effect],
    *,
    mission_time: float | None = None,
    budget: Budget | None = None,
    samples: int = 0,
    seed: int = 1,
    cancelled: Callable[[], bool] | None = None,
) -> Weighed:
    """Return what each option does to the top event, alone and with the others.

    mission_time : hours; samples : 0, or 2 to 100,000 for a range of every figure
    Raises BadModel for effects that can't be, LimitReached past the budget.
    """
    if samples < 0 or samples == 1 or samples > MOST_SAMPLES:
        raise BadModel(Problem(f"{samples} samples can't be used.", f"Give 0, or 2 to {MOST_SAMPLES:,}.", "samples"))
    watch = Watch(budget or Budget())
    if cancelled is not None:
        watch.cancelled = cancelled
    keys = [option.key for option in options]
    compiled = compile_options(model, top, keys, effects, mission_time, watch)
    one = np.eye(len(keys), dtype=bool)
    sets = np.concatenate([np.zeros((1, len(keys)), bool), one, ~one, np.ones((1, len(keys)), bool)])
    watch.check()
    before, *rest = find_figures(compiled, sets, samples, seed)
    alone, without, together = rest[: len(keys)], rest[len(keys) : -1], rest[-1]
    assert before is not None
    found = {key: figure for key, figure in zip(keys, alone, strict=True) if figure is not None}
    clashes = tuple(sorted((min(pair), max(pair)) for pair in find_clashes(effects)))
    return Weighed(
        before,
        found,
        together,
        dict(zip(keys, without, strict=True)),
        clashes,
        tuple(_descend(compiled, watch)),
        _interact(before, found, together),
        compiled.table.is_uncertain,
        tuple(_note(compiled, clashes)),
    )


def _descend(compiled: Compiled, watch: Watch) -> list[Step]:
    """Take the option that leaves the least, until none is left that can be taken."""
    count = len(compiled.options)
    chosen, steps = np.zeros(count, bool), []
    left = list(range(count))
    while left:
        watch.check()
        nexts = np.array([_with(chosen, i) for i in left])
        values = [compiled.evaluate_exactly(each) for each in nexts]
        possible = compiled.are_possible(nexts)
        if not possible.any():
            break
        best = min(np.flatnonzero(possible), key=lambda place: values[place])
        taken = left.pop(int(best))
        chosen[taken] = True
        steps.append(Step(compiled.options[taken], values[best]))
    return steps


def _with(chosen: Sets, option: int) -> Sets:
    more = chosen.copy()
    more[option] = True
    return more


def _interact(before: Figure, alone: dict[str, Figure], together: Figure | None) -> Interaction | None:
    if together is None or len(alone) < 2:
        return None
    start = before.probability
    product = start * math.prod(each.probability / start for each in alone.values()) if start > 0.0 else 0.0
    summed = sum(start - each.probability for each in alone.values())
    return Interaction(start - together.probability, summed, product)


def _note(compiled: Compiled, clashes: tuple[tuple[str, str], ...]) -> list[str]:
    notes = ["Every figure is the exact probability of the tree with its effects, recomputed; nothing is added up."]
    for one, other in clashes:
        notes.append(f"{one} and {other} can't hold together: they want different values for the same event.")
    below = set(compiled.netlist.variables)
    reached = {compiled.options[i] for lever in compiled.levers for i in lever.options}
    for key in compiled.options:
        if key not in reached:
            notes.append(f"{key} changes nothing below this top event.")
    if below and compiled.table.is_uncertain:
        notes.append("Uncertain parameters stand at their mean outside the ranges, and have the same draws in each.")
    return notes
