"""Prior and experience together: the posterior of a rate or a probability.

Conjugate pairs are exact (gamma with Poisson counts, beta with binomial ones). All others are integrated on a grid of
ln x. Source of the conjugate forms: NASA/SP-2009-569, chapter 3.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.learning.priors import LEVEL, Prior
from faulttree.engine.model import Call, Expression, Number

Values = NDArray[np.float64]

GRID = 20_001
REACH = 12.0  # standard deviations of ln x on either side of the mode
DRAWN = 241  # points of a curve


@dataclass(frozen=True, slots=True)
class Experience:
    """What was seen: `count` failures in `amount`.

    kind : "poisson" (exposure in hours, cycles, ...; the unknown is a rate per unit) or "binomial" (demands; the
        unknown is a probability per demand)
    """

    kind: str
    count: int
    amount: float

    def log_likelihood(self, x: Values) -> Values:
        """Return ln of the likelihood at x, up to a constant; float64 as x."""
        with np.errstate(divide="ignore", invalid="ignore"):
            seen = self.count * np.log(x) if self.count else np.zeros_like(x)
            if self.kind == "poisson":
                return np.asarray(seen - x * self.amount)
            return np.asarray(seen + np.where(x < 1.0, special.xlog1py(self.amount - self.count, -x), -np.inf))


@dataclass(frozen=True)
class Updated:
    """A posterior. `law` is "gamma" or "beta" with `a` and `b` as in a prior, or "grid" where it was integrated.

    expression : the value in exchange form; of a "grid" a lognormal of the same mean and the same ratio of the 95th to
        the 5th percentile, and `kept` are the 5th, 50th and 95th percentile of that
    """

    prior: Prior
    data: Experience
    law: str
    a: float
    b: float
    mean: float
    p05: float
    p50: float
    p95: float
    expression: Expression
    kept: tuple[float, float, float] | None = None

    @property
    def prior_quantiles(self) -> tuple[float | None, float | None, float | None]:
        """5th, 50th and 95th percentile of the prior; None of an improper one."""
        return self.prior.quantile(0.05), self.prior.quantile(0.5), self.prior.quantile(0.95)


def poisson(count: int, exposure: float) -> Experience:
    """So many failures in so much exposure."""
    return _check(Experience("poisson", count, float(exposure)))


def binomial(count: int, demands: float) -> Experience:
    """So many failures in so many demands."""
    experience = _check(Experience("binomial", count, float(demands)))
    if count > demands:
        message = f"{count} failures in {demands:g} demands."
        raise BadModel(Problem(message, "There can't be more failures than demands.", "data"))
    return experience


def lifetimes(failed: Sequence[float], survived: Sequence[float] = ()) -> Experience:
    """Times to failure, and times survived so far (right-censored): as many failures in the sum of all times.

    Of an exponential law. Source: NASA/SP-2009-569, section 4.8.3.
    """
    return poisson(len(failed), math.fsum([*failed, *survived]))


def _check(experience: Experience) -> Experience:
    if experience.count < 0 or not 0.0 < experience.amount < math.inf:
        message = f"{experience.count} failures in {experience.amount:g}."
        raise BadModel(Problem(message, "Give 0 or more failures, and exposure above 0.", "data"))
    return experience


def update(prior: Prior, data: Experience) -> Updated:
    """Return the posterior; raises BadModel where prior and data leave none."""
    if prior.law == "gamma" and data.kind == "poisson":
        return _conjugate(prior, data, "gamma", prior.a + data.count, prior.b + data.amount)
    if prior.law == "beta" and data.kind == "binomial":
        return _conjugate(prior, data, "beta", prior.a + data.count, prior.b + data.amount - data.count)
    if prior.law == "beta":
        message = "A beta prior is of a probability, and these counts are of a rate."
        raise BadModel(Problem(message, "Take a gamma or lognormal prior.", "prior"))
    return _integrate(prior, data)


def _need_finite(updated: Updated) -> Updated:
    """Refuse what doubles can't hold."""
    if all(0.0 < value < math.inf for value in (updated.mean, updated.p95)):
        return updated
    message = "The posterior is too small or too large to be computed with."
    raise BadModel(Problem(message, "Check prior and data.", "data"))


def _conjugate(prior: Prior, data: Experience, law: str, a: float, b: float) -> Updated:
    levels = np.array([0.05, 0.5, 0.95])
    if law == "gamma":
        ends, expression = stats.gamma.ppf(levels, a, scale=1 / b), Call("gamma-deviate", (Number(a), Number(1 / b)))
    else:
        ends, expression = stats.beta.ppf(levels, a, b), Call("beta-deviate", (Number(a), Number(b)))
    p05, p50, p95 = (float(end) for end in ends)
    mean = a / b if law == "gamma" else a / (a + b)
    return _need_finite(Updated(prior, data, law, a, b, mean, p05, p50, p95, expression))


def _integrate(prior: Prior, data: Experience) -> Updated:
    x, share = _grid(prior, data)
    mean = float(np.sum(share * x))
    ends = np.cumsum(share) - share / 2.0
    p05, p50, p95 = (float(np.exp(np.interp(u, ends, np.log(x)))) for u in (0.05, 0.5, 0.95))
    z = float(special.ndtri(LEVEL))
    error_factor = math.sqrt(p95 / p05)
    sigma = math.log(error_factor) / z
    median = mean / math.exp(sigma**2 / 2)
    expression = Call("lognormal-deviate", (Number(mean), Number(error_factor), Number(LEVEL)))
    kept = (median / error_factor, median, median * error_factor)
    return _need_finite(Updated(prior, data, "grid", math.nan, math.nan, mean, p05, p50, p95, expression, kept))


def _grid(prior: Prior, data: Experience) -> tuple[Values, Values]:
    """Points x, evenly spaced in ln x around the mode, and the share of the posterior that each stands for."""

    def log_posterior(log_x: Values) -> Values:
        x = np.exp(log_x)
        return prior.log_density(x) + log_x + data.log_likelihood(x)  # + ln x: per ln x

    upper = 0.0 if data.kind == "binomial" else 60.0
    rough = np.linspace(-80.0, upper - 1e-9, 4001)
    values = log_posterior(rough)
    best = int(np.nanargmax(values))
    if not math.isfinite(values[best]):
        raise BadModel(Problem("Prior and data leave no value possible.", "Check both.", "data"))
    low, high = rough[max(best - 1, 0)], rough[min(best + 1, len(rough) - 1)]
    found = optimize.minimize_scalar(lambda v: -float(log_posterior(np.array([v]))[0]), bounds=(low, high))
    mode = float(found.x)
    kept = rough[values > values[best] - REACH**2 / 2.0]
    step = rough[1] - rough[0]
    log_x = np.linspace(min(kept[0], mode) - step, min(max(kept[-1], mode) + step, upper - 1e-12), GRID)
    weight = np.exp(log_posterior(log_x) - float(log_posterior(np.array([mode]))[0]))
    weight[[0, -1]] /= 2.0
    return np.exp(log_x), weight / weight.sum()


@dataclass(frozen=True)
class Curves:
    """Prior, likelihood and posterior over the same points, each with its largest value 1; densities per ln x.

    x : float64[N]; prior : None for an improper one
    """

    x: Values
    prior: Values | None
    likelihood: Values
    posterior: Values


def trace(updated: Updated) -> Curves:
    """Return what a picture of an update shows, over a range that holds prior and posterior."""
    prior, data = updated.prior, updated.data
    ends = [updated.p05, updated.p95]
    ends += [value for u in (0.01, 0.99) if (value := prior.quantile(u))]
    low, high = min(ends) / 3.0, max(ends) * 3.0
    if data.kind == "binomial":
        high = min(high, 1.0 - 1e-9)
    x = np.geomspace(max(low, high * 1e-9), high, DRAWN)
    log_x = np.log(x)
    likelihood, before = data.log_likelihood(x), prior.log_density(x) + log_x
    both = prior.log_density(x) + log_x + likelihood
    return Curves(x, _scaled(before) if prior.proper else None, _scaled(likelihood), _scaled(both))


def _scaled(logs: Values) -> Values:
    return np.asarray(np.exp(logs - np.nanmax(logs)))
