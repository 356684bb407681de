"""Common-cause parameters from counts of how many members failed together.

Source: NASA/SP-2009-569, Example 7; NUREG/CR-5485 for the factors (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from faulttree.engine.errors import BadModel, Problem

Values = NDArray[np.float64]

SAMPLES = 100_000


@dataclass(frozen=True, slots=True)
class Factor:
    """The posterior of one factor.

    a, b : of its beta law, None where it was sampled; error : standard error of a sampled mean
    """

    name: str
    mean: float
    p05: float
    p50: float
    p95: float
    a: float | None = None
    b: float | None = None
    error: float | None = None


@dataclass(frozen=True)
class GroupFactors:
    """Alpha factors of a group, and the factors of the multiple-Greek-letter model for the same counts."""

    alphas: tuple[Factor, ...]
    greek: tuple[Factor, ...]
    staggered: bool


def estimate_factors(
    counts: Sequence[float], *, prior: Sequence[float] | None = None, staggered: bool = True, seed: int = 1
) -> GroupFactors:
    """Return the factors of a group of n members from how often 1, 2, ..., n of them failed together.

    counts : length n >= 2; prior : of a Dirichlet law, 1 each where None. Alpha factors have beta marginals. Greek
    factors are sums of alphas over each other, so with staggered testing they have beta laws too (Dirichlet laws add
    up); without, each alpha counts as often as members fail, and they are sampled, with the error of the mean.
    """
    shape = np.asarray(counts, float) + np.asarray(prior if prior is not None else np.ones(len(counts)), float)
    if len(counts) < 2 or np.any(np.asarray(counts) < 0) or np.any(shape <= 0.0):
        message = "Counts must be 0 or more for at least two members, and the prior above 0."
        raise BadModel(Problem(message, "Give how often 1, 2, ... members failed together.", "counts"))
    n, total = len(shape), float(shape.sum())
    alphas = tuple(_beta(f"alpha{k + 1}", float(shape[k]), total - float(shape[k])) for k in range(n))
    if staggered:
        tails = [float(shape[k:].sum()) for k in range(n)]
        greek = tuple(_beta(f"rho{k + 1}", tails[k], tails[k - 1] - tails[k]) for k in range(1, n))
    else:
        greek = _sample_greek(shape, seed)
    return GroupFactors(alphas, greek, staggered)


def _beta(name: str, a: float, b: float) -> Factor:
    p05, p50, p95 = (float(stats.beta.ppf(u, a, b)) for u in (0.05, 0.5, 0.95))
    return Factor(name, a / (a + b), p05, p50, p95, a, b)


def _sample_greek(shape: Values, seed: int) -> tuple[Factor, ...]:
    drawn = np.random.Generator(np.random.Philox(seed)).dirichlet(shape, SAMPLES)
    weighted = drawn * np.arange(1, len(shape) + 1)
    tails = np.cumsum(weighted[:, ::-1], axis=1)[:, ::-1]
    found = []
    for k in range(1, len(shape)):
        values = tails[:, k] / tails[:, k - 1]
        p05, p50, p95 = np.quantile(values, (0.05, 0.5, 0.95))
        error = float(values.std(ddof=1) / np.sqrt(SAMPLES))
        found.append(Factor(f"rho{k + 1}", float(values.mean()), float(p05), float(p50), float(p95), error=error))
    return tuple(found)
