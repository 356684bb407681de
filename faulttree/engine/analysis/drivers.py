"""What drives the spread of the top event: rank correlation and share of the variance of each random deviate."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

from faulttree.engine.events.sampling import Source
from faulttree.engine.results import Driver

Values = NDArray[np.float64]

Z95 = 1.959963984540054  # both-sided 95 % of the standard normal law
LEAST_SAMPLES = 200  # fewer say nothing of a share of variance
GROUPS = 10  # of the jackknife


def find_drivers(sources: tuple[Source, ...], drawn: Values, tops: Values) -> tuple[Driver, ...]:
    """Return the drivers, the strongest rank correlation first.

    drawn : float64[D, K], values of the D sources in K samples; tops : float64[K], the top event there
    A source that never varies, or any while the top event doesn't, has no correlation and stands last.
    """
    tops_ranked = _centred_ranks(tops)
    found = [_measure(source, drawn[d], tops, tops_ranked) for d, source in enumerate(sources)]
    return tuple(sorted(found, key=_strength))


def _strength(driver: Driver) -> tuple[float, str, int]:
    size = -1.0 if driver.rank_correlation is None else abs(driver.rank_correlation)
    return -size, driver.owner, driver.place


def _measure(source: Source, values: Values, tops: Values, tops_ranked: Values) -> Driver:
    ranked = _centred_ranks(values)
    rho = _correlate(ranked, tops_ranked)
    share, error = (None, None) if rho is None else first_order_share(ranked, tops)
    return Driver(
        owner=source.owner,
        place=source.position + 1,
        rank_correlation=rho,
        rank_interval=None if rho is None else _interval(rho, len(tops)),
        variance_share=share,
        variance_share_error=error,
    )


def _centred_ranks(values: Values) -> Values:
    """Ranks less their mean; equal values share the mean of their ranks."""
    order = np.argsort(values, kind="stable")
    rising = values[order]
    if np.any(rising[1:] == rising[:-1]):
        return np.asarray(rankdata(values) - (len(values) + 1) / 2.0, np.float64)
    ranks = np.empty(len(values))
    ranks[order] = np.arange(len(values)) - (len(values) - 1) / 2.0
    return ranks


def _correlate(a: Values, b: Values) -> float | None:
    """Pearson's correlation of centred values, None where one never varies."""
    # np.sum rather than a dot product: that one may run on several threads, which costs more than it brings here
    size = math.sqrt(float(np.sum(a * a)) * float(np.sum(b * b)))
    return None if size == 0.0 else max(-1.0, min(1.0, float(np.sum(a * b)) / size))


def _interval(rho: float, samples: int) -> tuple[float, float] | None:
    """95 % interval of Spearman's correlation by Fisher's z, None for fewer than 4 samples.

    Standard error of z: sqrt((1 + rho^2/2)/(n - 3)). Source: Bonett and Wright 2000 (from memory).
    """
    if samples < 4:
        return None
    if abs(rho) == 1.0:
        return rho, rho
    half = Z95 * math.sqrt((1.0 + rho * rho / 2.0) / (samples - 3))
    return math.tanh(math.atanh(rho) - half), math.tanh(math.atanh(rho) + half)


def first_order_share(ranked: Values, tops: Values) -> tuple[float | None, float | None]:
    """Return an estimate of Var(E(top | source)) / Var(top) and its standard error.

    Given-data estimator by neighbours: two samples that stand next to each other by rank of the source
    have nearly the same value of it, so half the mean square of their difference estimates the variance
    that is left when the source is known. Bias: neighbours differ a little, which takes something off,
    less with more samples, most with a long tail; a source without effect comes out near 0, on either
    side. The error is by a jackknife over ten groups of samples; it is itself rough where few samples make
    up the variance, as in the tail of a wide lognormal. None below LEAST_SAMPLES, or where the top event never varies.
    Source: Gamboa, Gremaud, Klein and Lagnoux 2022, after Chatterjee 2021 (from memory).
    """
    samples = len(tops)
    spread = tops - np.mean(tops)
    if samples < LEAST_SAMPLES or not np.any(spread):
        return None, None
    order = np.argsort(ranked, kind="stable")
    along = spread[order] / np.max(np.abs(spread))  # squares of tiny probabilities would underflow
    group = order * GROUPS // samples
    without = [_share_between(along[group != left_out]) for left_out in range(GROUPS)]
    return _share_between(along), math.sqrt((GROUPS - 1) * float(np.var(without)))


def _share_between(along: Values) -> float:
    """Share of the variance of samples, in the order of a source, that their neighbours have in common."""
    whole = float(np.var(along, ddof=1))
    return 1.0 - float(np.mean(np.diff(along) ** 2)) / 2.0 / whole if whole > 0.0 else 0.0
