"""Built-in failure models: unavailability Q(t), failure intensity w(t) and repair intensity v(t).

Times in hours, rates per hour; w and v are unconditional (per hour, of a component new at t = 0).
Arguments are floats or arrays that broadcast. Source of the forms: Open-PSA Model Exchange Format,
stochastic layer; the intensities follow from them as derivatives or as rate times probability of
the state the transition leaves (Kumamoto and Henley, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Values: TypeAlias = NDArray[np.float64]


def exponential_unavailability(rate: Values, t: Values) -> Values:
    """Q = 1 - exp(-rate t): not repaired."""
    return -np.expm1(-rate * t)


def exponential_intensities(rate: Values, t: Values) -> tuple[Values, Values]:
    """w = rate exp(-rate t), v = 0."""
    w = rate * np.exp(-rate * t)
    return w, np.zeros_like(w)


def glm_unavailability(gamma: Values, rate: Values, repair: Values, t: Values) -> Values:
    """Fails on demand with probability gamma, then in operation; repaired at a constant rate.

    Q = rate/(rate+repair) - (rate - gamma (rate+repair))/(rate+repair) exp(-(rate+repair) t),
    written as gamma e + q (1 - e) so that nothing cancels; with both rates 0 it stays gamma.
    """
    total = rate + repair
    limit = np.divide(rate, total, out=np.zeros(np.broadcast(rate, total).shape), where=total > 0.0)
    return np.asarray(gamma * np.exp(-total * t) - limit * np.expm1(-total * t))


def glm_intensities(gamma: Values, rate: Values, repair: Values, t: Values) -> tuple[Values, Values]:
    """w = rate (1 - Q), v = repair Q."""
    q = glm_unavailability(gamma, rate, repair, t)
    return rate * (1.0 - q), repair * q


def weibull_unavailability(scale: Values, shape: Values, shift: Values, t: Values) -> Values:
    """Q = 1 - exp(-((t - shift)/scale)^shape), 0 before the shift."""
    age = np.maximum(t - shift, 0.0) / scale
    with np.errstate(over="ignore"):
        return np.where(age > 0.0, -np.expm1(-(age**shape)), 0.0)


def weibull_intensities(scale: Values, shape: Values, shift: Values, t: Values) -> tuple[Values, Values]:
    """w = dQ/dt, v = 0; at the shift itself the limit from above: 0, 1/scale, infinite for a shape > 1, 1, < 1."""
    since = t - shift
    age = np.maximum(since, 0.0) / scale
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        density = shape / scale * age ** (shape - 1.0) * np.exp(-(age**shape))
    density = np.where(np.isnan(density), 0.0, density)  # an overflow times 0, far past the scale
    w = np.where(since >= 0.0, density, 0.0)
    return w, np.zeros_like(w)


def tested_unavailability(rate: Values, interval: Values, first: Values, t: Values) -> Values:
    """Tested and repaired in no time at first, first + interval, ...; Q = 1 - exp(-rate (t - last test)).

    At a test instant the value just after the test holds, that is 0.
    """
    return -np.expm1(-rate * _since_test(interval, first, t)[0])


def tested_intensities(rate: Values, interval: Values, first: Values, t: Values) -> tuple[Values, Values]:
    """w = rate (1 - Q); repair happens at the tests only, so v = 0 between them."""
    w = rate * np.exp(-rate * _since_test(interval, first, t)[0])
    return w, np.zeros_like(w)


def repaired_at_test_unavailability(rate: Values, repair: Values, interval: Values, first: Values, t: Values) -> Values:
    """Failures are found at tests (taking no time), then repaired at a constant rate.

    States: working W, failed and not found, under repair. Between tests W' = repair R - rate W,
    R' = -repair R; a test moves what has failed to R. From one test to the next W becomes
    a W + b (1 - W), so W after the n-th test is a geometric series. Q = 1 - W.
    """
    return 1.0 - _working(rate, repair, interval, first, t)[0]


def repaired_at_test_intensities(
    rate: Values, repair: Values, interval: Values, first: Values, t: Values
) -> tuple[Values, Values]:
    """w = rate W, v = repair R."""
    working, under_repair = _working(rate, repair, interval, first, t)
    return rate * working, repair * under_repair


def _since_test(interval: Values, first: Values, t: Values) -> tuple[Values, Values]:
    """Time since the last test (since 0 before the first), and the number of tests so far."""
    later = t >= first
    whole = np.floor((np.maximum(t - first, 0.0)) / interval * (1.0 + 4e-16))
    return np.where(later, np.maximum(t - first - whole * interval, 0.0), t), np.where(later, whole + 1.0, 0.0)


def _working(rate: Values, repair: Values, interval: Values, first: Values, t: Values) -> tuple[Values, Values]:
    """Probability of working and of being under repair."""
    since, tests = _since_test(interval, first, t)
    start = np.exp(-rate * first)
    a, b = np.exp(-rate * interval), _returned(rate, repair, interval)
    ratio = a - b  # below 1: what is left of a deviation from the steady value after one interval
    steady = b / np.where(ratio < 1.0, 1.0 - ratio, 1.0)
    after = np.where(ratio < 1.0, steady + (start - steady) * ratio ** np.maximum(tests - 1.0, 0.0), start)
    working = after * np.exp(-rate * since) + (1.0 - after) * _returned(rate, repair, since)
    tested = tests > 0.0
    under_repair = (1.0 - after) * np.exp(-repair * since)
    return np.where(tested, working, np.exp(-rate * t)), np.where(tested, under_repair, 0.0)


def _returned(rate: Values, repair: Values, s: Values) -> Values:
    """Share of what was under repair that works a time s later: repair/(rate - repair) (e^-repair s - e^-rate s).

    Written with the smaller rate taken out, so that nothing overflows, and with its limit for equal rates.
    """
    x = np.abs(rate - repair) * s
    safe = np.where(x > 1e-12, x, 1.0)
    growth = np.where(x > 1e-12, -np.expm1(-safe) / safe, 1.0)
    return repair * s * np.exp(-np.minimum(rate, repair) * s) * growth


Unavailability: TypeAlias = Callable[..., Values]
Intensities: TypeAlias = Callable[..., tuple[Values, Values]]


@dataclass(frozen=True, slots=True)
class Argument:
    """An argument of a failure model and what it may be: at least `low` (above it if `strict`), at most `high`."""

    name: str
    low: float = 0.0
    high: float = np.inf
    strict: bool = False

    @property
    def wanted(self) -> str:
        """The range in words."""
        if np.isfinite(self.high):
            return f"from {self.low:g} to {self.high:g}"
        return f"above {self.low:g}" if self.strict else f"{self.low:g} or more"


@dataclass(frozen=True, slots=True)
class FailureModel:
    """Q(t), (w(t), v(t)) and the arguments of both, the time last."""

    unavailability: Unavailability
    intensities: Intensities
    arguments: tuple[Argument, ...]


_RATE, _REPAIR, _TIME = Argument("failure rate"), Argument("repair rate"), Argument("time")
_INTERVAL, _FIRST = Argument("test interval", strict=True), Argument("time of the first test")

MODELS: dict[tuple[str, int], FailureModel] = {
    ("exponential", 2): FailureModel(exponential_unavailability, exponential_intensities, (_RATE, _TIME)),
    ("GLM", 4): FailureModel(
        glm_unavailability,
        glm_intensities,
        (Argument("probability on demand", high=1.0), _RATE, _REPAIR, _TIME),
    ),
    ("Weibull", 4): FailureModel(
        weibull_unavailability,
        weibull_intensities,
        (
            Argument("scale", strict=True),
            Argument("shape", strict=True),
            Argument("shift", low=-np.inf),
            Argument("time", low=-np.inf),
        ),
    ),
    ("periodic-test", 4): FailureModel(tested_unavailability, tested_intensities, (_RATE, _INTERVAL, _FIRST, _TIME)),
    ("periodic-test", 5): FailureModel(
        repaired_at_test_unavailability,
        repaired_at_test_intensities,
        (_RATE, _REPAIR, _INTERVAL, _FIRST, _TIME),
    ),
}
