"""A u chart: events per exposure, period by period, against limits from all of them together.

Limits are exact Poisson quantiles for each period's exposure: 3-sigma limits go below 0 for small counts and are passed
far more often than they say. Rule 1, a point outside limits that each side passes with probability 0.00135 at most (the
share of a normal law past 3 sigma); rule 2, nine points in a row on one side of the centre line.
Sources: Shewhart charts as in ISO 7870-2; Nelson 1984 for the run of nine (both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import stats

from faulttree.engine.errors import BadModel, Problem

TAIL = 0.00135
RUN = 9
LEAST_PERIODS = 4


class Signal(StrEnum):
    """Why a point calls for a look."""

    ABOVE = "above"
    BELOW = "below"
    RUN = "run"


@dataclass(frozen=True, slots=True)
class Point:
    """One period; rates are events per exposure."""

    count: int
    exposure: float
    rate: float
    low: float
    high: float
    signal: Signal | None


@dataclass(frozen=True, slots=True)
class Chart:
    """The centre line (all events over all exposure) and the periods."""

    centre: float
    points: tuple[Point, ...]

    @property
    def signals(self) -> tuple[int, ...]:
        """Places of the points that call for a look."""
        return tuple(place for place, point in enumerate(self.points) if point.signal)


def make_u_chart(counts: Sequence[int], exposures: Sequence[float]) -> Chart:
    """Return the chart; raises BadModel with under 4 periods, one without exposure, or no events at all."""
    if len(counts) != len(exposures):
        raise BadModel(Problem("Counts and exposures differ in number.", "Give one exposure for each count.", "counts"))
    if len(counts) < LEAST_PERIODS:
        counted = "is 1 period" if len(counts) == 1 else f"are {len(counts)} periods"
        message = f"There {counted} with exposure; a control chart takes at least {LEAST_PERIODS}."
        raise BadModel(Problem(message, "Take shorter periods, or a longer time.", "counts"))
    if not all(0.0 < exposure < float("inf") for exposure in exposures) or min(counts) < 0:
        raise BadModel(Problem("A period has no exposure, or a count below 0.", "Leave it out.", "exposures"))
    if not sum(counts):
        raise BadModel(Problem("There are no events.", "Without any there is nothing to chart.", "counts"))
    centre = sum(counts) / float(sum(exposures))
    means = centre * np.asarray(exposures, dtype=np.float64)
    low, high = (np.asarray(stats.poisson.ppf(share, means)) for share in (TAIL, 1.0 - TAIL))
    runs = _find_runs([count / exposure - centre for count, exposure in zip(counts, exposures, strict=True)])
    points = []
    for place, (count, exposure) in enumerate(zip(counts, exposures, strict=True)):
        outside = Signal.ABOVE if count > high[place] else Signal.BELOW if count < low[place] else None
        limits = float(low[place]) / exposure, float(high[place]) / exposure
        signal = outside or (Signal.RUN if place in runs else None)
        points.append(Point(count, exposure, count / exposure, *limits, signal))
    return Chart(centre, tuple(points))


def _find_runs(offsets: Sequence[float]) -> set[int]:
    """Return the places that end nine or more in a row on one side; a point on the line ends a run."""
    ends: set[int] = set()
    length, side = 0, 0
    for place, offset in enumerate(offsets):
        now = (offset > 0) - (offset < 0)
        length = length + 1 if now == side and now else int(now != 0)
        side = now
        if length >= RUN:
            ends.add(place)
    return ends
