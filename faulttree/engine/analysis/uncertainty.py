"""Distribution of the top-event probability when parameters are uncertain, by sampling."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from faulttree.engine.analysis.drivers import find_drivers
from faulttree.engine.analysis.probability import evaluate_batch
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.solution import Solution
from faulttree.engine.events.sampling import Sampling, Source
from faulttree.engine.events.table import EventTable
from faulttree.engine.results import Uncertainty

BLOCK = 2_000  # samples between two reports of progress
BINS = 40
KEPT_VALUES = 4_000_000  # drawn values, 32 MB
MOST_KEPT = 50_000  # samples with drawn values
LEAST_KEPT = 2_000  # however many sources there are


@dataclass(frozen=True, slots=True)
class Block:
    """Samples start..stop-1 of a run, however it is split; plain arrays, so that a worker can send it.

    tops : float64[stop - start], probability of the top event
    sources : the random deviates, in the order in which they are met
    drawn : float64[K, D], their values in the first K samples of the block; those past `kept_samples` are left out
    clipped : how many draws were cut to the range of what they stand for
    """

    start: int
    stop: int
    tops: NDArray[np.float64]
    sources: tuple[Source, ...]
    drawn: NDArray[np.float64]
    clipped: int


def kept_samples(samples: int, sources: int) -> int:
    """How many samples, from the first on, keep their drawn values: all, or as many as fit 32 MB and 50,000."""
    return min(samples, MOST_KEPT, max(LEAST_KEPT, KEPT_VALUES // max(sources, 1)))


def split_samples(samples: int) -> list[tuple[int, int]]:
    """Start and stop of the blocks of a run, in order."""
    return [(start, min(start + BLOCK, samples)) for start in range(0, samples, BLOCK)]


def sample_block(solution: Solution, table: EventTable, mission_time: float | None, sampling: Sampling) -> Block:
    """Return the samples `sampling.start` .. `sampling.stop` - 1 of a run; depends on no other block."""
    found = table.sample(mission_time, sampling)
    sources = tuple(found.drawn)
    rows = min(max(kept_samples(sampling.samples, len(sources)) - sampling.start, 0), sampling.stop - sampling.start)
    drawn = np.empty((rows, len(sources)))
    for d, values in enumerate(found.drawn.values()):
        drawn[:, d] = values[:rows]
    tops = evaluate_batch(solution, found.probability)
    return Block(sampling.start, sampling.stop, tops, sources, drawn, found.clipped)


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
    blocks = []
    for start, stop in split_samples(samples):
        watch.say("Sampling parameters", start / samples)
        blocks.append(sample_block(solution, table, mission_time, Sampling(samples, seed, method, start, stop)))
    return summarise(blocks, seed, method)


def summarise(blocks: Iterable[Block], seed: int, method: str) -> tuple[Uncertainty, int]:
    """Put the blocks of a run together; the same digits however it was split and in whatever order they come.

    Returns the distribution and how many draws were cut. Raises ValueError when samples are missing or twice there.
    """
    ordered = sorted(blocks, key=lambda block: block.start)
    if any(before.stop != after.start for before, after in pairwise(ordered)) or ordered[0].start != 0:
        raise ValueError("The blocks don't follow each other from sample 0 on.")
    tops = np.concatenate([block.tops for block in ordered])
    drawn, theirs = _join_drawn(ordered, tops)
    drivers = find_drivers(ordered[0].sources, drawn, theirs)
    described = describe_samples(tops, seed, method)
    found = replace(described, drivers=drivers, driver_samples=len(theirs) if drivers else 0)
    return found, sum(block.clipped for block in ordered)


def _join_drawn(ordered: list[Block], tops: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Drawn values by source, float64[D, K], and the top event in the same samples, float64[K]."""
    kept = sum(len(block.drawn) for block in ordered)
    drawn = np.empty((len(ordered[0].sources), kept))
    for block in ordered:
        drawn[:, block.start : block.start + len(block.drawn)] = block.drawn.T
    return drawn, tops[:kept]


def describe_samples(tops: NDArray[np.float64], seed: int, method: str) -> Uncertainty:
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
    counts, edges = bin_samples(ordered, BINS)
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


def bin_samples(ordered: NDArray[np.float64], bins: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Counts in bins of rising samples, and the edges.

    Bins have equal width, on a logarithmic scale when the values span more than a decade.
    """
    low, high = float(ordered[0]), float(ordered[-1])
    if low <= 0.0 or high / low < 10.0:
        if high <= low:
            high = low + max(abs(low) * 1e-9, 1e-300)
        counts, edges = np.histogram(ordered, bins, (low, high))
        return counts, edges
    edges = np.geomspace(low, high, bins + 1)
    edges[0], edges[-1] = low, high
    counts, edges = np.histogram(ordered, edges)
    return counts, edges
