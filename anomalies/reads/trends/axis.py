"""The axis of exposure: how many outings, or hours of activities, had passed at a moment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from anomalies.reads.trends.facts import Outing

LEAST_SECONDS = 1.0
"""An outing that took no time still counts as one: its exposure comes in within a second."""


class Axis:
    """Cumulative exposure, in a straight line over each activity; activities at the same time add up."""

    def __init__(self, outings: Iterable[Outing], measure: str) -> None:
        self.measure = measure
        rows = list(outings)
        starts = np.array([row.start.timestamp() for row in rows], dtype=np.float64)
        lengths = np.array([max((row.end - row.start).total_seconds(), LEAST_SECONDS) for row in rows])
        amounts = np.array([row.hours if measure == "hours" else 1.0 for row in rows], dtype=np.float64)
        self.total = float(amounts.sum())
        slopes = amounts / lengths if len(rows) else amounts
        knots = np.concatenate((starts, starts + lengths)) if len(rows) else starts
        order = np.argsort(knots, kind="stable")
        self._knots: NDArray[np.float64] = knots[order]
        slope = np.cumsum(np.concatenate((slopes, -slopes))[order])
        steps = np.diff(self._knots) * slope[:-1] if len(rows) else np.zeros(0)
        self._values = np.concatenate(([0.0], np.cumsum(steps))) if len(rows) else np.zeros(0)

    def places(self, moments: Sequence[datetime]) -> list[float]:
        """Return the exposure that had passed at each moment."""
        if not len(self._knots) or not moments:
            return [0.0] * len(moments)
        found = np.interp([at.timestamp() for at in moments], self._knots, self._values, left=0.0, right=self.total)
        return [min(max(float(value), 0.0), self.total) for value in found]

    def between(self, start: datetime, end: datetime) -> float:
        """Return the exposure from one moment to another."""
        first, last = self.places([start, end])
        return max(last - first, 0.0)
