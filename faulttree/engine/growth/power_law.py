"""The power-law process: a rate of occurrence that changes as a power of cumulative exposure.

Expected events by exposure t are lambda t^beta: beta below 1 is growth of reliability, 1 a constant rate.
Sources: Crow 1974 and 1982; MIL-HDBK-189 (1981), appendix C; IEC 61164 (from memory); NIST/SEMATECH e-Handbook, section
8.4.5. Every interval here is exact given the model: none rests on large samples.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special, stats

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.growth.record import Record, Truncation, need_events

LEAST_EVENTS = 3
NODES, WEIGHTS = np.polynomial.legendre.leggauss(200)


@dataclass(frozen=True, slots=True)
class Interval:
    """Two-sided, equal-tailed limits."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Growth:
    """The fitted process; exposure in the unit of the record.

    beta, scale : maximum-likelihood exponent and lambda (events per exposure^beta)
    beta_unbiased : (m-1) / log_sum, with m the events that can lie anywhere
    intensity : events per exposure at the end of the record; `mtbf` is its inverse
    p_improved : one-sided p of beta = 1 against less, by 2 log_sum ~ chi-square(2 m): exact
    p_changed : two-sided, twice the smaller tail, at most 1
    """

    record: Record
    beta: float
    beta_unbiased: float
    scale: float
    intensity: float
    beta_limits: Interval
    intensity_limits: Interval
    p_improved: float
    p_changed: float
    confidence: float

    @property
    def mtbf(self) -> float:
        """Exposure between events at the end."""
        return 1.0 / self.intensity

    @property
    def mtbf_limits(self) -> Interval:
        """Limits of `mtbf`."""
        return Interval(1.0 / self.intensity_limits.high, 1.0 / self.intensity_limits.low)

    def expected(self, exposure: float) -> float:
        """Return the expected number of events by an exposure."""
        return float(self.scale * exposure**self.beta)


def fit_power_law(record: Record, *, confidence: float = 0.9) -> Growth:
    """Fit the process by maximum likelihood; raises BadModel with fewer than 3 events that can lie anywhere."""
    need_events(record, LEAST_EVENTS, "the growth model")
    if not 0.0 < confidence < 1.0:
        raise BadModel(Problem(f"The confidence is {confidence:g}.", "Give a number between 0 and 1.", "confidence"))
    log_sum = record.log_sum
    if log_sum <= 0.0:
        raise BadModel(Problem("All events lie at the very end.", "Watch on: a trend can't be seen yet.", "times"))
    tail = (1.0 - confidence) / 2.0
    doubled = 2 * record.free
    beta = record.count / log_sum
    intensity = record.count * beta / record.end
    low, high = (float(stats.chi2.ppf(share, doubled)) / (2.0 * log_sum) for share in (tail, 1.0 - tail))
    factors = _intensity_factors(record, tail)
    early = float(stats.chi2.sf(2.0 * log_sum, doubled))
    return Growth(
        record,
        beta,
        (record.free - 1) / log_sum,
        record.count / record.end**beta,
        intensity,
        Interval(low, high),
        Interval(intensity * factors.low, intensity * factors.high),
        early,
        min(2.0 * min(early, 1.0 - early), 1.0),
        confidence,
    )


def _intensity_factors(record: Record, tail: float) -> Interval:
    """Return the limits of (true intensity) / (fitted intensity); they depend on the count alone."""
    square = float(record.count) ** 2
    if record.truncation == Truncation.FAILURE:
        low = _solve(lambda x: product_cdf(x, record.count) - tail, square)
        high = _solve(lambda x: product_cdf(x, record.count) - (1.0 - tail), square)
    else:
        low = _solve(lambda x: (1.0 - bessel_cdf(record.count - 1, x)) - tail, square)
        high = _solve(lambda x: tail - bessel_cdf(record.count, x), square)
    return Interval(low / square, high / square)


def bessel_cdf(count: int, x: float) -> float:
    """Return P(N <= count) for N >= 1 with weights x^n / (n! (n-1)!).

    This is the law of the number of events by a fixed end, given log_sum, with x = intensity * end * log_sum (Crow
    1982): no nuisance parameter is left in it. The weights sum to sqrt(x) I_1(2 sqrt(x)).
    """
    n = np.arange(1, count + 1)
    logs = n * np.log(x) - special.gammaln(n + 1.0) - special.gammaln(n)
    root = np.sqrt(x)
    whole = np.log(root) + np.log(special.ive(1, 2.0 * root)) + 2.0 * root
    return min(float(np.exp(logs - whole).sum()), 1.0)


def product_cdf(x: float, count: int) -> float:
    """Return P(G H <= x), with G ~ Gamma(count) and H ~ Gamma(count - 1) independent.

    G H / count^2 is the true over the fitted intensity where the last event ended the watching: lambda T^beta ~
    Gamma(n), and beta log_sum ~ Gamma(n-1) independently of it (Crow 1974, Finkelstein 1976).
    """
    law = stats.gamma(count - 1)
    low, high = law.ppf(1e-15), law.isf(1e-15)
    h = (high + low) / 2.0 + (high - low) / 2.0 * NODES
    return float((high - low) / 2.0 * (WEIGHTS * law.pdf(h) * special.gammainc(count, x / h)).sum())


def _solve(excess: Callable[[float], float], middle: float) -> float:
    """Return the root of a rising function of x, looked for around `middle` on a logarithmic axis."""
    low, high = np.log(middle) - 1.0, np.log(middle) + 1.0
    while excess(np.exp(low)) > 0.0:
        low -= 1.0
    while excess(np.exp(high)) < 0.0:
        high += 1.0
    return float(np.exp(optimize.brentq(lambda at: excess(np.exp(at)), low, high, xtol=1e-12)))
