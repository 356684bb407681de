"""The Laplace test: do the events lie early, late or evenly on the axis of exposure?

Under a constant rate, and given how many there are, events are scattered uniformly. U is how far their mean lies from
the middle, in standard deviations: below 0 they come early (the rate falls), above 0 late (it rises).
Source: Cox and Lewis 1966, section 3.3 (from memory); NIST/SEMATECH e-Handbook, section 8.2.3.4.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import stats

from faulttree.engine.growth.record import Record, need_events

LEAST_EVENTS = 3
MOST_EXACT = 20


@dataclass(frozen=True, slots=True)
class Laplace:
    """The result of the test.

    statistic : U, without a unit
    p_improved : one-sided: how likely so early a mean, or an earlier one, if the rate were constant
    p_changed : two-sided, twice the smaller tail, at most 1
    used : events that went in; the one that ended the watching doesn't
    is_exact : the p-values are those of a sum of uniform numbers, not those of the normal approximation
    """

    statistic: float
    p_improved: float
    p_changed: float
    used: int
    mean: float
    end: float
    is_exact: bool


def find_trend(record: Record) -> Laplace:
    """Return U = (mean - end/2) / (end / sqrt(12 n)) and its p-values.

    Up to 20 events the p-values are exact (Irwin-Hall: the sum of n uniform numbers), past that the normal
    approximation, whose error is below 0.0015 there. Raises BadModel with fewer than 3 events that count.
    """
    need_events(record, LEAST_EVENTS, "the Laplace test")
    used = record.free
    mean = float(record.times[:used].mean())
    statistic = (mean - record.end / 2.0) / (record.end / math.sqrt(12.0 * used))
    is_exact = used <= MOST_EXACT
    law = stats.irwinhall(used) if is_exact else stats.norm()
    place = mean * used / record.end if is_exact else statistic
    early, late = float(law.cdf(place)), float(law.sf(place))
    return Laplace(statistic, early, min(2.0 * min(early, late), 1.0), used, mean, record.end, is_exact)
