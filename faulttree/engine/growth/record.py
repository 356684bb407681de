"""When events happened on the axis of cumulative exposure, and why watching stopped."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.errors import BadModel, Problem


class Truncation(StrEnum):
    """What ended the watching: a fixed amount of exposure, or the last event itself."""

    TIME = "time"
    FAILURE = "failure"


@dataclass(frozen=True, slots=True)
class Record:
    """Events of one process.

    times : float64[n], cumulative exposure at each event, rising
    end : cumulative exposure when watching stopped; the last event where that stopped it
    """

    times: NDArray[np.float64]
    end: float
    truncation: Truncation

    @property
    def count(self) -> int:
        """How many events there are, the one that ended the watching included."""
        return len(self.times)

    @property
    def free(self) -> int:
        """How many events can lie anywhere: all, or all but the one that ended the watching."""
        return self.count - (self.truncation == Truncation.FAILURE)

    @property
    def log_sum(self) -> float:
        """The sum of ln(end / time) over the events; one that ended the watching adds 0."""
        return float(np.log(self.end / self.times).sum())


def make_record(times: Sequence[float], end: float | None = None) -> Record:
    """Return the record of events at `times`, in any order; without an end the last event ended the watching.

    Raises BadModel for a time that isn't above 0, is no number, or lies past the end.
    """
    values = np.sort(np.asarray(times, dtype=np.float64))
    if not np.isfinite(values).all() or (len(values) and values[0] <= 0.0):
        raise BadModel(Problem("A time is 0, negative or no number.", "Give cumulative exposure above 0.", "times"))
    if end is None:
        if not len(values):
            raise BadModel(Problem("There is neither an event nor an end.", "Give the exposure watched.", "end"))
        return Record(values, float(values[-1]), Truncation.FAILURE)
    if not 0.0 < end < math.inf:
        raise BadModel(Problem(f"The end is {end:g}.", "Give exposure above 0.", "end"))
    if len(values) and values[-1] > end:
        message = f"An event at {values[-1]:g} lies past the end, {end:g}."
        raise BadModel(Problem(message, "Give an end that isn't before the last event.", "end"))
    return Record(values, float(end), Truncation.TIME)


def need_events(record: Record, least: int, method: str) -> None:
    """Raise BadModel where fewer than `least` events can lie anywhere."""
    if record.free < least:
        total = least + (record.truncation == Truncation.FAILURE)
        counted = "is 1 event" if record.count == 1 else f"are {record.count} events"
        message = f"There {counted}; {method} takes at least {total}."
        raise BadModel(Problem(message, "Watch for longer, or take more kinds of events together.", "times"))
