"""Distribution of the top-event probability when parameters are uncertain, by sampling."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from faulttree.engine.analysis.probability import evaluate_batch
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.solution import Solution
from faulttree.engine.events.sampling import Sampling
from faulttree.engine.events.table import EventTable
from faulttree.engine.results import Uncertainty

BLOCK = 2_000  # samples between two reports of progress
BINS = 40


def sample_top_event(
    solution: Solution,
    table: EventTable,
    mission_time: float | None,
    samples: int,
    seed: int,
    method: str,
    watch: Watch,
) -> tuple[Uncertainty, int]:
    """Return the distribution of the top-event probability and how many event draws were cut to [0, 1]."""
    tops, clipped = np.empty(samples), 0
    for start in range(0, samples, BLOCK):
        watch.say("Sampling parameters", start / samples)
        stop = min(start + BLOCK, samples)
        drawn = table.sample(mission_time, Sampling(samples, seed, method, start, stop))
        tops[start:stop] = evaluate_batch(solution, drawn.probability)
        clipped += drawn.clipped
    return summarise(tops, seed, method), clipped


def summarise(tops: NDArray[np.float64], seed: int, method: str) -> Uncertainty:
    """Mean, spread and percentiles of samples, with their sampling errors.

    Standard error of the mean: s/sqrt(n). Percentiles: the 95 % interval between two order
    statistics (binomial, distribution-free). Both assume independent samples; a Latin hypercube
    does better than they say.
    """
    ordered = np.sort(tops)
    deviation = float(np.std(tops, ddof=1)) if len(tops) > 1 else 0.0
    errors: dict[str, object] = {"mean": deviation / len(tops) ** 0.5}
    for name, q in (("p05", 0.05), ("p50", 0.50), ("p95", 0.95)):
        low, high = (int(stats.binom.ppf(tail, len(tops), q)) for tail in (0.025, 0.975))
        errors[name] = [float(ordered[max(low - 1, 0)]), float(ordered[min(high, len(tops) - 1)])]
    counts, edges = _histogram(ordered)
    p05, p50, p95 = (float(x) for x in np.quantile(ordered, (0.05, 0.5, 0.95)))
    return Uncertainty(
        mean=float(np.mean(tops)),
        standard_deviation=deviation,
        p05=p05,
        p50=p50,
        p95=p95,
        samples=len(tops),
        seed=seed,
        sampling=method,
        errors=errors,
        histogram=(tuple(edges.tolist()), tuple(counts.tolist())),
    )


def _histogram(ordered: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Counts in bins of equal width, on a logarithmic scale when the values span more than a decade."""
    low, high = float(ordered[0]), float(ordered[-1])
    if low <= 0.0 or high / low < 10.0:
        if high <= low:
            high = low + max(abs(low) * 1e-9, 1e-300)
        counts, edges = np.histogram(ordered, BINS, (low, high))
        return counts, edges
    edges = np.geomspace(low, high, BINS + 1)
    edges[0], edges[-1] = low, high
    counts, edges = np.histogram(ordered, edges)
    return counts, edges
