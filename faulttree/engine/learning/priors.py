"""What is held of a rate or a probability before it is seen to fail or not.

Sources: NUREG/CR-6823 (Handbook of Parameter Estimation for Probabilistic Risk Assessment; from memory) for the
constrained noninformative priors (Atwood 1996); NASA/SP-2009-569 for Jeffreys priors.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import Call, Expression, Number

Values = NDArray[np.float64]

LEVEL = 0.95  # of an error factor, where none is given
SMALL_MEAN = 1e-4  # below it the constrained noninformative prior of a probability is taken by its series
LEAST, MOST = 1e-60, 1e60  # numbers of a prior: beyond, doubles run out
WIDEST = 1e5  # error factor
RATE, PROBABILITY = "rate", "probability"


@dataclass(frozen=True, slots=True)
class Prior:
    """A prior; `a` and `b` are shape and rate of a gamma, both of a beta, mu and sigma of a lognormal.

    law : "gamma", "beta" or "lognormal"
    words : what it is and where its numbers come from, for people
    proper : it can be normalised; the Jeffreys prior of a rate can't
    """

    law: str
    a: float
    b: float
    words: str
    proper: bool = True

    @property
    def mean(self) -> float | None:
        """Its mean; None where it has none."""
        if not self.proper:
            return None
        if self.law == "gamma":
            return self.a / self.b
        return self.a / (self.a + self.b) if self.law == "beta" else math.exp(self.a + self.b**2 / 2)

    def quantile(self, u: float) -> float | None:
        """The value it stays below with probability u; None for an improper prior."""
        if not self.proper:
            return None
        if self.law == "gamma":
            return float(stats.gamma.ppf(u, self.a, scale=1 / self.b))
        if self.law == "beta":
            return float(stats.beta.ppf(u, self.a, self.b))
        return float(math.exp(self.a + self.b * special.ndtri(u)))

    def log_density(self, x: Values) -> Values:
        """Return ln of the density at x > 0, up to a constant for an improper prior; float64 as x."""
        if self.law == "gamma":
            if not self.proper:
                return (self.a - 1.0) * np.log(x)
            return np.asarray(stats.gamma.logpdf(x, self.a, scale=1 / self.b))
        if self.law == "beta":
            return np.asarray(stats.beta.logpdf(x, self.a, self.b))
        return np.asarray(stats.norm.logpdf(np.log(x), self.a, self.b) - np.log(x))


def gamma_prior(shape: float, rate: float) -> Prior:
    """A gamma prior of a rate: shape, and rate in units of exposure."""
    _positive(shape=shape, rate=rate)
    return Prior("gamma", shape, rate, f"gamma, shape {shape:g}, rate {rate:g}")


def beta_prior(a: float, b: float) -> Prior:
    """A beta prior of a probability."""
    _positive(a=a, b=b)
    return Prior("beta", a, b, f"beta, {a:g} and {b:g}")


def lognormal_prior(*, error_factor: float, median: float = 0.0, mean: float = 0.0, level: float = LEVEL) -> Prior:
    """A lognormal prior by its error factor, and its median or its mean; sigma = ln EF / z(level)."""
    center = median or mean
    _positive(center=center)
    if not 1.0 < error_factor <= WIDEST:
        message = f"The error factor is {error_factor:g}."
        raise BadModel(Problem(message, f"Give more than 1, and {WIDEST:g} at the most.", "prior"))
    sigma = math.log(error_factor) / float(special.ndtri(level))
    mu = math.log(center) if median else math.log(center) - sigma**2 / 2
    named = "median" if median else "mean"
    return Prior("lognormal", mu, sigma, f"lognormal, {named} {center:g}, error factor {error_factor:g} at {level:g}")


def jeffreys_prior(quantity: str) -> Prior:
    """The Jeffreys prior: beta(1/2, 1/2) of a probability, proportional to 1/sqrt(rate) of a rate."""
    if quantity == PROBABILITY:
        return Prior("beta", 0.5, 0.5, "Jeffreys noninformative prior, beta(1/2, 1/2)")
    return Prior(
        "gamma", 0.5, 0.0, "Jeffreys noninformative prior, proportional to rate to the power −1/2", proper=False
    )


def constrained_prior(quantity: str, mean: float) -> Prior:
    """The constrained noninformative prior: as wide as can be with this mean.

    Of a rate gamma(1/2, 1/(2 mean)). Of a probability the density proportional to e^(bp) p^-1/2 (1-p)^-1/2 with this
    mean, then the beta of the same mean and variance. That density is an arcsine law tilted by b: with x = b/2 and
    r = I1(x)/I0(x) its mean is (1 + r)/2 and its variance (1 - r/x - r^2)/4.
    """
    _positive(mean=mean)
    words = f"constrained noninformative prior with mean {mean:g}"
    if quantity == RATE:
        return Prior("gamma", 0.5, 0.5 / mean, words)
    if not mean < 1.0:
        raise BadModel(Problem(f"The mean of a probability is {mean:g}.", "Give less than 1.", "prior"))
    alpha = _find_alpha(min(mean, 1.0 - mean))
    other = alpha * (1.0 / min(mean, 1.0 - mean) - 1.0)
    a, b = (alpha, other) if mean <= 0.5 else (other, alpha)
    return Prior("beta", a, b, words)


def _find_alpha(mean: float) -> float:
    """First parameter of the beta that matches; `mean` at most 1/2."""
    if mean == 0.5:
        return 0.5
    if mean < SMALL_MEAN:
        return 0.5 - 1.5 * mean  # the first terms in the mean; the next is of the order of its square

    def ratio(x: float) -> float:
        return float(special.ive(1, x) / special.ive(0, x))

    x = float(optimize.brentq(lambda x: ratio(x) - (2.0 * mean - 1.0), -1.0 / mean, -1e-9, xtol=1e-12, rtol=1e-14))
    variance = (1.0 - ratio(x) / x - ratio(x) ** 2) / 4.0
    return mean * (mean * (1.0 - mean) / variance - 1.0)


def prior_from_expression(expression: Expression, quantity: str) -> Prior | None:
    """Return the prior that a library value says; None where it's no law that can be updated.

    quantity : "rate" or "probability". A plain number says nothing of its own uncertainty and becomes the constrained
    noninformative prior with it as mean.
    """
    if isinstance(expression, Number):
        return constrained_prior(quantity, expression.value) if expression.value > 0.0 else None
    if not isinstance(expression, Call):
        return None
    values = [each.value for each in expression.arguments if isinstance(each, Number)]
    if len(values) != len(expression.arguments):
        return None
    if expression.function == "gamma-deviate":
        return gamma_prior(values[0], 1.0 / values[1])
    if expression.function == "beta-deviate":
        return beta_prior(*values)
    if expression.function != "lognormal-deviate":
        return None
    if len(values) == 2:
        return Prior("lognormal", values[0], values[1], f"lognormal, mu {values[0]:g}, sigma {values[1]:g}")
    return lognormal_prior(mean=values[0], error_factor=values[1], level=values[2])


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not LEAST < value < MOST:
            raise BadModel(Problem(f"The {name} of the prior is {value:g}.", "Give a number above 0.", "prior"))
