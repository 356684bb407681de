"""Whether the power law fits: the Cramer-von Mises statistic, held against its own distribution.

Under the power law (time / end)^beta are uniform numbers in order, whatever beta and lambda are, so the distribution of
the statistic depends on the number of events alone. It has no closed form where beta is estimated; tables of it are
simulated (MIL-HDBK-189, appendix C; IEC 61164, from memory), and so is what is used here, with its error said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.growth.power_law import Growth

DRAWS = 20_000
SEED = 20_000
MOST_NUMBERS = 2_000_000


@dataclass(frozen=True, slots=True)
class Fit:
    """The statistic, and how often chance alone gives more.

    critical : the value that chance passes with probability `level`
    p : simulated; `standard_error` is that of p
    draws : simulated records
    """

    statistic: float
    critical: float
    level: float
    p: float
    standard_error: float
    draws: int

    @property
    def is_poor(self) -> bool:
        """The power law is rejected at `level`."""
        return self.statistic > self.critical


def check_fit(growth: Growth, *, level: float = 0.1) -> Fit:
    """Return C^2 = 1/(12 m) + sum((t_i/end)^beta - (2i-1)/(2m))^2 with the unbiased beta, over m events."""
    record = growth.record
    used = record.free
    places = (record.times[:used] / record.end) ** growth.beta_unbiased
    statistic = float(_distance(places))
    drawn = _simulate(used)
    p = float((drawn >= statistic).mean())
    error = math.sqrt(max(p * (1.0 - p), 1.0 / len(drawn)) / len(drawn))
    return Fit(statistic, float(np.quantile(drawn, 1.0 - level)), level, p, error, len(drawn))


def _distance(places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return C^2 of each row of float64[..., m], rising along the last axis."""
    used = places.shape[-1]
    even = (2.0 * np.arange(1, used + 1) - 1.0) / (2.0 * used)
    distance: NDArray[np.float64] = 1.0 / (12.0 * used) + ((places - even) ** 2).sum(axis=-1)
    return distance


@lru_cache(maxsize=64)
def _simulate(used: int) -> NDArray[np.float64]:
    """Return C^2 of simulated records of `used` events; long ones fewer times, to bound time and memory."""
    draws = max(min(DRAWS, MOST_NUMBERS // used), 1000)
    uniform = np.sort(np.random.default_rng(SEED).random((draws, used)), axis=-1)
    beta = (used - 1) / -np.log(uniform).sum(axis=-1, keepdims=True)
    return _distance(uniform**beta)
