"""Rates before and after, limits on rates, and how much exposure is still to be seen.

One convention throughout: a two-sided p-value is twice the smaller tail, at most 1, and an interval is the equal-tailed
one that agrees with it (Clopper and Pearson 1934; Przyborowski and Wilenski 1940 for the comparison of two Poisson
rates given their sum; from memory). Another convention for the p-value (outcomes no likelier than the one seen) can lie
on the other side of 0.05 than this interval does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import optimize, stats

from faulttree.engine.errors import BadModel, Problem


@dataclass(frozen=True, slots=True)
class Comparison:
    """The rate after over the rate before.

    ratio : None where nothing was seen before
    low, high : two-sided limits of the ratio at `confidence`; high is infinite where nothing was seen before
    p_improved : one-sided: how likely so few after, or fewer, if nothing had changed
    p_changed : two-sided, twice the smaller tail
    upper : one-sided upper limit of the ratio at `confidence`
    """

    ratio: float | None
    low: float
    high: float
    upper: float
    p_improved: float
    p_changed: float
    confidence: float


def compare_rates(
    before: int, before_exposure: float, after: int, after_exposure: float, *, confidence: float = 0.95
) -> Comparison | None:
    """Compare two counts by their exposures, exactly, given their sum; None where nothing was seen at all."""
    _check(before, before_exposure, confidence)
    _check(after, after_exposure, confidence)
    total = before + after
    if total == 0:
        return None
    share = after_exposure / (before_exposure + after_exposure)
    fewer = float(stats.binom.cdf(after, total, share))
    more = float(stats.binom.sf(after - 1, total, share))
    scale = before_exposure / after_exposure
    tail = (1.0 - confidence) / 2.0
    return Comparison(
        after / after_exposure / (before / before_exposure) if before else None,
        _odds(_lower_share(after, total, tail)) * scale,
        _odds(_upper_share(after, total, tail)) * scale,
        _odds(_upper_share(after, total, 2.0 * tail)) * scale,
        fewer,
        min(2.0 * min(fewer, more), 1.0),
        confidence,
    )


def upper_rate(count: int, exposure: float, confidence: float) -> float:
    """One-sided upper limit of a Poisson rate: chi-square(confidence; 2 count + 2) / (2 exposure), also for 0."""
    _check(count, exposure, confidence)
    return float(stats.chi2.ppf(confidence, 2 * count + 2)) / (2.0 * exposure)


def lower_rate(count: int, exposure: float, confidence: float) -> float:
    """One-sided lower limit of a Poisson rate: chi-square(1 - confidence; 2 count) / (2 exposure); 0 for none."""
    _check(count, exposure, confidence)
    return float(stats.chi2.ppf(1.0 - confidence, 2 * count)) / (2.0 * exposure) if count else 0.0


def upper_probability(count: int, demands: float, confidence: float) -> float:
    """One-sided upper limit of a probability per demand (Clopper-Pearson)."""
    _check(count, demands, confidence)
    return _upper_share(count, demands, 1.0 - confidence)


def lower_probability(count: int, demands: float, confidence: float) -> float:
    """One-sided lower limit of a probability per demand (Clopper-Pearson); 0 for none."""
    _check(count, demands, confidence)
    return _lower_share(count, demands, 1.0 - confidence)


def exposure_for_rate(rate: float, confidence: float, *, count: int = 0) -> float:
    """Exposure with `count` failures after which the rate is shown to be below `rate`."""
    _check(count, rate, confidence)
    return float(stats.chi2.ppf(confidence, 2 * count + 2)) / (2.0 * rate)


def exposure_for_improvement(before: int, before_exposure: float, confidence: float, *, after: int = 0) -> float | None:
    """Exposure after a change, with `after` failures in it, that shows a lower rate than before; None if nothing can.

    Without failures T_before ((1 - confidence)^(-1/before) - 1); with some the same condition is solved numerically.
    """
    _check(before, before_exposure, confidence)
    if before == 0:
        return None
    if after == 0:
        return before_exposure * float(math.expm1(-math.log1p(-confidence) / before))

    def excess(log_exposure: float) -> float:
        share = math.exp(log_exposure) / (before_exposure + math.exp(log_exposure))
        return float(stats.binom.cdf(after, before + after, share)) - (1.0 - confidence)

    low, high = math.log(before_exposure) - 40.0, math.log(before_exposure) + 40.0
    return math.exp(float(optimize.brentq(excess, low, high, xtol=1e-12)))


def trials_for_success(reliability: float, confidence: float) -> int:
    """Trials without a failure that show this reliability: the success-run theorem n = ln(1-C)/ln R, rounded up."""
    if not 0.0 < reliability < 1.0:
        raise BadModel(Problem(f"The reliability is {reliability:g}.", "Give a number between 0 and 1.", "reliability"))
    return math.ceil(math.log1p(-confidence) / math.log(reliability) - 1e-12)


def _upper_share(count: float, total: float, tail: float) -> float:
    return 1.0 if count >= total else float(stats.beta.ppf(1.0 - tail, count + 1, total - count))


def _lower_share(count: float, total: float, tail: float) -> float:
    return 0.0 if count <= 0 else float(stats.beta.ppf(tail, count, total - count + 1))


def _odds(share: float) -> float:
    return math.inf if share >= 1.0 else share / (1.0 - share)


def _check(count: int, amount: float, confidence: float) -> None:
    if count < 0 or not 0.0 < amount < math.inf:
        message = f"{count} failures in {amount:g}."
        raise BadModel(Problem(message, "Give 0 or more failures, and exposure above 0.", "data"))
    if not 0.0 < confidence < 1.0:
        raise BadModel(Problem(f"The confidence is {confidence:g}.", "Give a number between 0 and 1.", "confidence"))
