"""Which options to take within limits, so that the top event is least probable."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from faulttree.engine.budget import Budget, Watch
from faulttree.engine.effects.compiled import Compiled, Sets, compile_options
from faulttree.engine.effects.kinds import Effect, Limits, Option, find_clashes
from faulttree.engine.effects.programme import Programme
from faulttree.engine.effects.rules import Rules, make_rules
from faulttree.engine.effects.subsets import (
    MOST_WORK,
    TIE,
    Point,
    evaluate_all,
    find_best,
    find_frontier,
    list_sets,
    name_options,
)
from faulttree.engine.model import Model

EVERY_SET, PROGRAMME = "every set tried", "integer programme"
MOST_SUBSETS = 1 << 16


@dataclass(frozen=True, slots=True)
class Choice:
    """The answer of `choose_options`.

    probability : exact, of the set that was chosen; before : with no option
    method : "every set tried" or "integer programme"
    lower_bound : no set within the limits is below; proved by trying all, or to the tolerance of the solver
    gap : (probability - lower_bound) / probability; 0 where every set was tried
    frontier : sets of which none is cheaper and as good, the limit of cost aside; None without trying every set
    """

    chosen: tuple[str, ...]
    probability: float
    before: float
    method: str
    sets_tried: int
    lower_bound: float
    gap: float
    frontier: tuple[Point, ...] | None
    notes: tuple[str, ...]


def choose_options(
    model: Model,
    top: str,
    options: Sequence[Option],
    effects: Sequence[Effect],
    limits: Limits,
    *,
    must: Collection[str] = (),
    excludes: Iterable[Collection[str]] = (),
    needs: Iterable[tuple[str, str]] = (),
    mission_time: float | None = None,
    budget: Budget | None = None,
    most_subsets: int = MOST_SUBSETS,
    seconds: float = 10.0,
    cancelled: Callable[[], bool] | None = None,
) -> Choice:
    """Return the set of options that leaves the least top-event probability within the limits.

    must : keys that are in every set; excludes : pairs of which one may be chosen, beside those that clash;
    needs : (one, other): the first only together with the second
    most_subsets : up to here every set is tried, else an integer programme is solved for at most `seconds`
    mission_time : hours
    Of equal sets the one of fewest options is taken, then the cheapest; the programme only drops what changes nothing.
    Nothing is assumed of the tree: an option may make it worse, alone or with others. Raises BadModel for rules that
    no set keeps, LimitReached past the budget.
    """
    watch = Watch(budget or Budget())
    if cancelled is not None:
        watch.cancelled = cancelled
    rules = make_rules(options, limits, must, [*excludes, *find_clashes(effects)], needs)
    rules.check()
    compiled = compile_options(model, top, [option.key for option in options], effects, mission_time, watch)
    before = compiled.evaluate_exactly(np.zeros(len(options), bool))
    sets = list_sets(rules)
    if sets is not None and len(sets) <= most_subsets and len(sets) * compiled.solution.nodes <= MOST_WORK:
        return _try_all(compiled, rules, sets, before, watch)
    return _solve(compiled, rules, before, seconds, watch)


def _try_all(compiled: Compiled, rules: Rules, sets: Sets, before: float, watch: Watch) -> Choice:
    values = evaluate_all(compiled, sets, watch)
    best = find_best(compiled, rules, sets, values)
    least = float(values[best])
    return Choice(
        name_options(rules, sets[best]),
        least,
        before,
        EVERY_SET,
        len(sets),
        least,
        0.0,
        find_frontier(compiled, rules, sets, values),
        (f"All {len(sets):,} sets that the rules allow at any cost were evaluated exactly.",),
    )


def _solve(compiled: Compiled, rules: Rules, before: float, seconds: float, watch: Watch) -> Choice:
    watch.say("Solving the integer programme")
    solved = Programme(compiled, rules, watch).solve(seconds)
    starts = [rules.first] if solved.chosen is None else [rules.first, solved.chosen]
    best = min(starts, key=compiled.evaluate_exactly)
    best, tried = _polish(compiled, rules, best, watch)
    probability = compiled.evaluate_exactly(best)
    lower = min(solved.lower, probability)
    notes = [
        f"The solver (HiGHS, {solved.rows:,} rows) {solved.status}; its set was evaluated again exactly, and so was "
        "every set that differs from it by one option added, dropped or exchanged.",
        f"The lower bound is the solver's, to its tolerance of about 1e-6 of {solved.scale:.3g}; sets closer than that "
        "are not told apart by it.",
    ]
    gap = (probability - lower) / probability if probability > 0.0 else 0.0
    return Choice(name_options(rules, best), probability, before, PROGRAMME, tried, lower, gap, None, tuple(notes))


def _polish(compiled: Compiled, rules: Rules, start: Sets, watch: Watch) -> tuple[Sets, int]:
    """Go to the best neighbour while there is a better one, then drop what changes nothing."""
    best, tried = start, 0
    value = compiled.evaluate_exactly(best)
    while True:
        watch.check()
        near = _list_neighbours(best)
        near = near[rules.allow(near)]
        found = [compiled.evaluate_exactly(each) for each in near]
        tried += len(near)
        place = min(range(len(near)), key=lambda i: (found[i], int(near[i].sum())), default=None)
        if place is None:
            return best, tried
        drops = [i for i in range(len(near)) if near[i].sum() < best.sum() and found[i] <= value * (1.0 + TIE)]
        if found[place] < value * (1.0 - TIE):
            best, value = near[place], found[place]
        elif drops:
            best = near[drops[0]]
        else:
            return best, tried


def _list_neighbours(chosen: Sets) -> Sets:
    """Sets that differ by one option, or by one taken for another."""
    count = len(chosen)
    one = chosen ^ np.eye(count, dtype=bool)
    inside, outside = np.flatnonzero(chosen), np.flatnonzero(~chosen)
    swaps = np.repeat(chosen[None, :], len(inside) * len(outside), axis=0)
    for row, (taken, given) in enumerate((a, b) for a in inside for b in outside):
        swaps[row, [taken, given]] = swaps[row, [given, taken]]
    return np.concatenate([one, swaps])
