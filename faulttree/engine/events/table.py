"""Numbers for the variables of a netlist: probabilities, intensities over time, samples."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.events.over_time import break_times, find_failure_law, is_smooth
from faulttree.engine.events.parts import is_random, is_timed
from faulttree.engine.events.sampling import Sampling, Source
from faulttree.engine.model import BasicEvent, Model

Values = NDArray[np.float64]

ROUNDING = 1e-12  # how far outside [0, 1] a computed probability may lie by rounding


@dataclass(frozen=True)
class TimeValues:
    """Basic events over a time grid; float64[T, V] each.

    failure_intensity : unconditional, per hour; 0 for an event that does not depend on time, NaN
        where its expression has no failure model to take it from, infinite at the start of a
        Weibull law with a shape below 1
    """

    probability: Values
    failure_intensity: Values


@dataclass(frozen=True)
class Samples:
    """Sampled probabilities float64[S, V] and what they were made of.

    clipped : how many draws were cut to the range of what they stand for
    drawn : the values of each random deviate, float64[S] each, in the order in which they are met
    """

    probability: Values
    clipped: int
    drawn: Mapping[Source, Values]


class EventTable:
    """The basic events of a model that are variables of a netlist, in its order.

    uses_mission_time, is_uncertain : whether some event depends on the mission time, holds a deviate
    constant_events : names of those whose probability does not depend on time
    events_without_intensity : names of those that depend on time with no failure model to give an intensity
    events_with_corners : names of those whose Q(t) may jump or bend where no one can tell in advance
    """

    def __init__(self, model: Model, names: tuple[str, ...]) -> None:
        self._model = model
        self.names = names
        events = [model.basic_events[name] for name in names]
        self._expressions = {event.name: event.expression for event in events if event.expression is not None}
        if len(self._expressions) < len(events):
            raise BadModel(*(_missing(event) for event in events if event.expression is None))
        timed = [name for name, expression in self._expressions.items() if is_timed(model, expression)]
        self._laws = {name: find_failure_law(model, self._expressions[name]) for name in timed}
        self.uses_mission_time = bool(timed)
        self.is_uncertain = any(is_random(model, expression) for expression in self._expressions.values())
        self.constant_events = tuple(name for name in names if name not in self._laws)
        self.events_without_intensity = tuple(name for name, law in self._laws.items() if law is None)
        self.events_with_corners = tuple(name for name in timed if not is_smooth(model, self._expressions[name]))

    def probabilities(self, mission_time: float | None) -> Values:
        """Return float64[V], each within [0, 1]; raises BadModel naming an event whose value is not."""
        evaluator = Evaluator(self._model, mission_time)
        values = np.array([evaluator.value(_owner(name), e) for name, e in self._expressions.items()], np.float64)
        if np.any(values < -ROUNDING) or np.any(values > 1.0 + ROUNDING):
            for name, value in zip(self._expressions, values, strict=True):
                _check(name, value)
        return np.clip(values, 0.0, 1.0)

    def over_time(self, times: Values) -> TimeValues:
        """Return probabilities and failure intensities at each time, hours."""
        evaluator = Evaluator(self._model, times)
        probability = np.empty((len(times), len(self.names)))
        intensity = np.zeros_like(probability)
        for v, (name, expression) in enumerate(self._expressions.items()):
            value = evaluator.value(_owner(name), expression)
            _check(name, value)
            probability[:, v] = np.clip(value, 0.0, 1.0)
            if name in self._laws:
                law = self._laws[name]
                intensity[:, v] = law.failure_intensity(evaluator, _owner(name)) if law else np.nan
        return TimeValues(probability, intensity)

    def sample(self, mission_time: float | None, sampling: Sampling) -> Samples:
        """Return one row per sample; one draw per shared parameter and sample.

        A draw that leads outside [0, 1] (the tail of a lognormal, say) or makes a rate negative is
        cut to the bound and counted.
        """
        evaluator = Evaluator(self._model, mission_time, sampling)
        rows = np.empty((sampling.stop - sampling.start, len(self.names)))
        for v, (name, expression) in enumerate(self._expressions.items()):
            rows[:, v] = evaluator.value(_owner(name), expression)
        clipped = int(np.count_nonzero((rows < -ROUNDING) | (rows > 1.0 + ROUNDING)))
        return Samples(np.clip(rows, 0.0, 1.0), clipped + evaluator.clipped, evaluator.drawn)

    def break_times(self, start: float, stop: float) -> Values:
        """Instants within (start, stop) at which to cut an integral over time, rising; see over_time.break_times."""
        found: set[float] = set()
        for name in self._laws:
            found.update(break_times(self._model, _owner(name), self._expressions[name], start, stop))
        return np.array(sorted(found), np.float64)


def _owner(name: str) -> str:
    return f"basic event {name}"


def _check(name: str, value: Values) -> None:
    if np.any(value < -ROUNDING) or np.any(value > 1.0 + ROUNDING):
        wrong = float(np.max(value)) if np.any(value > 1.0 + ROUNDING) else float(np.min(value))
        message = f"Its probability comes out as {wrong:g}, outside [0, 1]."
        raise BadModel(Problem(message, "Check its expression and parameters.", _owner(name)))


def _missing(event: BasicEvent) -> Problem:
    line = event.placing.line
    message = "It has no probability."
    return Problem(message, "Give it an expression to quantify the tree.", f"basic event {event.name}", line=line)
