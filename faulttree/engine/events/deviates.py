"""Random deviates: mean and quantile of each.

Source: Open-PSA Model Exchange Format, stochastic layer. A lognormal with three arguments is given
by its mean, its error factor and the level of the error factor; sigma = ln EF / z(level).
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

Values = NDArray[np.float64]


def lognormal_parameters(arguments: list[Values]) -> tuple[Values, Values]:
    """Return mu and sigma of the logarithm from (mean, error factor, level) or (mu, sigma)."""
    if len(arguments) == 2:
        return arguments[0], arguments[1]
    mean, error_factor, level = arguments
    sigma = np.log(error_factor) / stats.norm.ppf(level)
    return np.log(mean) - sigma**2 / 2.0, sigma


def find_fault(function: str, arguments: list[Values]) -> str:
    """Return what is wrong with the arguments of a deviate, or an empty text."""
    a, b = arguments[0], arguments[1]
    if function == "uniform-deviate":
        return "" if np.all(a <= b) else "The lower bound is above the upper bound."
    if function == "normal-deviate":
        return "" if np.all(b >= 0.0) else "The standard deviation is negative."
    if function in ("gamma-deviate", "beta-deviate"):
        return "" if np.all(a > 0.0) and np.all(b > 0.0) else "Both parameters must be above 0."
    if function == "histogram":
        edges = [arguments[0], *arguments[1::2]]
        rising = all(np.all(x < y) for x, y in itertools.pairwise(edges))
        return "" if rising else "The bounds must rise."
    if len(arguments) == 2:
        return "" if np.all(b >= 0.0) else "Sigma is negative."
    fine = np.all(a > 0.0) and np.all(b >= 1.0) and np.all((arguments[2] > 0.5) & (arguments[2] < 1.0))
    return "" if fine else "The mean must be above 0, the error factor 1 or more, the level between 0.5 and 1."


def mean_of(function: str, arguments: list[Values]) -> Values:
    """Return the mean of a deviate."""
    a, b = arguments[0], arguments[1]
    if function == "uniform-deviate":
        return (a + b) / 2.0
    if function == "normal-deviate":
        return a + 0.0 * b
    if function == "gamma-deviate":
        return a * b
    if function == "beta-deviate":
        return a / (a + b)
    if function == "histogram":
        edges = [arguments[0], *arguments[1::2]]
        widths = [y - x for x, y in itertools.pairwise(edges)]
        total = sum((w * value for w, value in zip(widths, arguments[2::2], strict=True)), np.zeros(()))
        return np.asarray(total / (edges[-1] - edges[0]))
    if len(arguments) == 3:
        return a + 0.0 * b * arguments[2]
    return np.exp(a + b**2 / 2.0)


def quantile_of(function: str, arguments: list[Values], u: Values) -> Values:
    """Return the value that a deviate stays below with probability u, 0 < u < 1."""
    a, b = arguments[0], arguments[1]
    if function == "uniform-deviate":
        return a + (b - a) * u
    if function == "normal-deviate":
        return a + b * special.ndtri(u)
    if function == "gamma-deviate":
        return np.asarray(stats.gamma.ppf(u, a, scale=b))
    if function == "beta-deviate":
        return np.asarray(stats.beta.ppf(u, a, b))
    if function == "histogram":
        edges = [arguments[0], *arguments[1::2]]
        z = edges[0] + (edges[-1] - edges[0]) * u  # uniform over the range; the value is that of its bin
        return np.select([z <= edge for edge in edges[1:]], arguments[2::2], arguments[-1])
    mu, sigma = lognormal_parameters(arguments)
    return np.exp(mu + sigma * special.ndtri(u))
