"""What a set of options makes of the top event, as a figure with its spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from faulttree.engine.effects.compiled import Compiled, Sets
from faulttree.engine.events.sampling import Sampling


@dataclass(frozen=True, slots=True)
class Figure:
    """A top-event probability: exact with uncertain parameters at their mean, and the spread where it was sampled."""

    probability: float
    p05: float | None = None
    p50: float | None = None
    p95: float | None = None
    mean: float | None = None


def find_figures(compiled: Compiled, sets: Sets, samples: int, seed: int) -> list[Figure | None]:
    """Return the figure of each set, by the same draws for all; None where its options can't hold together."""
    values = [compiled.evaluate_exactly(chosen) for chosen in sets]
    possible = compiled.are_possible(sets)
    found: list[Figure | None] = [
        Figure(value) if holds else None for value, holds in zip(values, possible, strict=True)
    ]
    if not samples or not compiled.table.is_uncertain:
        return found
    tops = compiled.sample(sets[possible], Sampling(samples, seed, "latin-hypercube", 0, samples))
    for row, place in enumerate(np.flatnonzero(possible)):
        p05, p50, p95 = (float(x) for x in np.quantile(tops[row], (0.05, 0.5, 0.95)))
        found[place] = Figure(values[place], p05, p50, p95, float(np.mean(tops[row])))
    return found
