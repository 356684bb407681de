"""How long something takes when some of it isn't done yet.

Leaving out what still waits makes times look shorter than they are. The product-limit estimate (Kaplan and Meier 1958)
counts what waits as "longer than so far".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from faulttree.engine.errors import BadModel, Problem


@dataclass(frozen=True, slots=True)
class Waiting:
    """Times in the unit they were given in.

    median : by the product limit, with what waits counted; None where more than half may take longer than any seen
    median_done, mean_done : of what is done alone; None where nothing is
    longest_waiting : None where nothing waits
    """

    done: int
    waiting: int
    median: float | None
    median_done: float | None
    mean_done: float | None
    longest_waiting: float | None


def estimate_waiting(done: Sequence[float], waiting: Sequence[float] = ()) -> Waiting | None:
    """Estimate from the times of what is done and the times so far of what waits; None where there is neither.

    Raises BadModel for a time below 0 or no number.
    """
    if not done and not waiting:
        return None
    if any(not 0.0 <= time < float("inf") for time in (*done, *waiting)):
        raise BadModel(Problem("A time is below 0 or no number.", "Give times of 0 or more.", "times"))
    return Waiting(
        len(done),
        len(waiting),
        _product_limit_median(done, waiting) if done else None,
        float(np.median(done)) if done else None,
        float(np.mean(done)) if done else None,
        max(waiting) if waiting else None,
    )


def _product_limit_median(done: Sequence[float], waiting: Sequence[float]) -> float | None:
    """Return the first time at which half or fewer are still waiting."""
    left = stats.ecdf(stats.CensoredData(uncensored=np.asarray(done), right=np.asarray(waiting))).sf
    reached = np.flatnonzero(left.probabilities <= 0.5 + 1e-12)
    return float(left.quantiles[reached[0]]) if len(reached) else None
