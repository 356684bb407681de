"""The best set of options by trying every one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.effects.compiled import Compiled, Sets, Values
from faulttree.engine.effects.rules import Rules

MOST_OPTIONS = 20
MOST_WORK = 2_000_000_000
"""Sets times diagram rows that are evaluated at most: some seconds."""
BLOCK = 4096
TIE = 1e-12  # of the probability: differences below are rounding
ABSOLUTE = 1e-13  # what a diagram with negations may lose in a batch


@dataclass(frozen=True)
class Point:
    """A set that no cheaper one equals: more cost, less probability than the one before."""

    cost: float
    probability: float
    options: tuple[str, ...]


def list_sets(rules: Rules) -> Sets | None:
    """Return every set that keeps the rules, the limit of cost aside; None where there are too many to list."""
    count = len(rules.options)
    free = count - len(rules.must)
    if free > MOST_OPTIONS:
        return None
    found = []
    order = [place for place in range(count) if place not in rules.must]
    for start in range(0, 1 << free, 1 << 16):
        numbers = np.arange(start, min(start + (1 << 16), 1 << free))
        sets = np.zeros((len(numbers), count), bool)
        sets[:, list(rules.must)] = True
        sets[:, order] = (numbers[:, None] >> np.arange(free)) & 1 == 1
        found.append(sets[rules.allow(sets, any_cost=True)])
    return np.concatenate(found)


def evaluate_all(compiled: Compiled, sets: Sets, watch: Watch) -> Values:
    """Return the probability of every set; where negations could cost digits, those near the least are exact."""
    values = np.empty(len(sets))
    for start in range(0, len(sets), BLOCK):
        watch.say("Trying every set", start / len(sets))
        values[start : start + BLOCK] = compiled.evaluate_sets(sets[start : start + BLOCK])
    return values


def find_best(compiled: Compiled, rules: Rules, sets: Sets, values: Values) -> int:
    """Return the place of the best set within all limits: least probability, then fewest options, then least cost."""
    inside = np.flatnonzero(rules.allow(sets))
    least = float(np.min(values[inside]))
    near = inside[values[inside] <= least * (1.0 + TIE) + ABSOLUTE]
    exact = np.array([compiled.evaluate_exactly(sets[place]) for place in near])
    values[near] = exact
    tied = near[exact <= float(np.min(exact)) * (1.0 + TIE)]
    cost = rules.take(sets, "cost")
    return int(min(tied, key=lambda place: (int(sets[place].sum()), cost[place], values[place], int(place))))


def find_frontier(compiled: Compiled, rules: Rules, sets: Sets, values: Values) -> tuple[Point, ...]:
    """Return the sets that are worth their cost, within all limits but that of cost, cheapest first."""
    cost = rules.take(sets, "cost")
    order = np.lexsort((sets.sum(axis=1), values, cost))
    return tuple(
        Point(float(cost[place]), compiled.evaluate_exactly(sets[place]), name_options(rules, sets[place]))
        for place in _improving(order, values)
    )


def _improving(order: NDArray[np.int64], values: Values) -> Iterator[int]:
    least = np.inf
    for place in order:
        if values[place] < least * (1.0 - 1e-9) or (least == np.inf):
            least = values[place]
            yield int(place)


def name_options(rules: Rules, chosen: Sets) -> tuple[str, ...]:
    """Return the keys of a set, in the order of the options."""
    return tuple(option.key for option, held in zip(rules.options, chosen, strict=True) if held)
