"""Numbers for the variables of a netlist: probabilities, intensities over time, samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.evaluate import Evaluator, Sampling, is_random, is_timed
from faulttree.engine.events.failure_models import MODELS
from faulttree.engine.model import BasicEvent, Call, Expression, MissionTime, Model, ParameterReference

Values = NDArray[np.float64]

ROUNDING = 1e-12  # how far outside [0, 1] a computed probability may lie by rounding


@dataclass(frozen=True)
class TimeValues:
    """Basic events over a time grid; float64[T, V] each.

    failure_intensity : unconditional, per hour; 0 for an event that does not depend on time, NaN
        where its expression has no failure model to take it from
    """

    probability: Values
    failure_intensity: Values


@dataclass(frozen=True)
class Samples:
    """Sampled probabilities float64[S, V] and how many draws were cut to [0, 1]."""

    probability: Values
    clipped: int


class EventTable:
    """The basic events of a model that are variables of a netlist, in its order."""

    def __init__(self, model: Model, names: tuple[str, ...]) -> None:
        self._model = model
        self.names = names
        self._events = [model.basic_events[name] for name in names]
        missing = [event for event in self._events if event.expression is None]
        if missing:
            raise BadModel(*(_missing(event) for event in missing))
        self.uses_mission_time = any(is_timed(model, event.expression) for event in self._events)
        self.is_uncertain = any(is_random(model, event.expression) for event in self._events)

    def probabilities(self, mission_time: float | None) -> Values:
        """Return float64[V], each within [0, 1]; raises BadModel naming an event whose value is not."""
        evaluator = Evaluator(self._model, mission_time)
        return np.array([self._checked(evaluator, event) for event in self._events], np.float64)

    def over_time(self, times: Values) -> TimeValues:
        """Return probabilities and failure intensities at each time, hours."""
        evaluator = Evaluator(self._model, times)
        probability = np.empty((len(times), len(self._events)))
        intensity = np.empty_like(probability)
        for v, event in enumerate(self._events):
            probability[:, v] = self._checked(evaluator, event)
            intensity[:, v] = self._intensity(evaluator, f"basic event {event.name}", event.expression)
        return TimeValues(probability, intensity)

    def sample(self, mission_time: float | None, sampling: Sampling) -> Samples:
        """Return one row per sample; one draw per shared parameter and sample.

        A draw that leads outside [0, 1] (the tail of a lognormal, say) is cut to the bound and counted.
        """
        evaluator = Evaluator(self._model, mission_time, sampling)
        rows = np.empty((sampling.stop - sampling.start, len(self._events)))
        for v, event in enumerate(self._events):
            assert event.expression is not None
            rows[:, v] = evaluator.value(f"basic event {event.name}", event.expression)
        clipped = int(np.count_nonzero((rows < 0.0) | (rows > 1.0)))
        return Samples(np.clip(rows, 0.0, 1.0), clipped)

    def test_instants(self, start: float, stop: float, most: int) -> list[float]:
        """Instants in (start, stop) where some event is tested and Q(t) jumps, at most `most` of them per event."""
        instants: set[float] = set()
        for event in self._events:
            call = _resolve(self._model, event.expression)
            if isinstance(call, Call) and call.function == "periodic-test":
                evaluator = Evaluator(self._model, stop)
                arguments = [float(evaluator.value(event.name, argument)) for argument in call.arguments]
                interval, first = arguments[-3], arguments[-2]
                n = max(0, int((start - first) / interval))
                instants.update(first + interval * k for k in range(n, n + most))
        return sorted(t for t in instants if start < t < stop)

    def _checked(self, evaluator: Evaluator, event: BasicEvent) -> Values:
        assert event.expression is not None
        value = evaluator.value(f"basic event {event.name}", event.expression)
        if np.any(value < -ROUNDING) or np.any(value > 1.0 + ROUNDING):
            wrong = float(np.max(value)) if np.any(value > 1.0) else float(np.min(value))
            message = f"Its probability comes out as {wrong:g}, outside [0, 1]."
            problem = Problem(message, "Check its expression and parameters.", f"basic event {event.name}")
            raise BadModel(problem)
        return np.clip(value, 0.0, 1.0)

    def _intensity(self, evaluator: Evaluator, owner: str, expression: Expression | None) -> Values:
        """Failure intensity of an expression: a failure model, a constant, or a constant times one of these."""
        if not is_timed(self._model, expression):
            return np.zeros(())
        call = _resolve(self._model, expression)
        if isinstance(call, Call) and (call.function, len(call.arguments)) in MODELS:
            timed = [is_timed(self._model, argument) for argument in call.arguments]
            if not any(timed[:-1]) and isinstance(_resolve(self._model, call.arguments[-1]), MissionTime):
                arguments = [evaluator.value(owner, argument) for argument in call.arguments]
                return MODELS[call.function, len(arguments)][1](*arguments)[0]
        if isinstance(call, Call) and call.function == "mul":
            timed_parts = [part for part in call.arguments if is_timed(self._model, part)]
            if len(timed_parts) == 1:
                others = [part for part in call.arguments if part is not timed_parts[0]]
                scale = np.prod([evaluator.value(owner, part) for part in others]) if others else 1.0
                return np.asarray(scale * self._intensity(evaluator, owner, timed_parts[0]))
        return np.asarray(np.nan)


def _resolve(model: Model, expression: Expression | None) -> Expression | None:
    """Follow a bare parameter to what it stands for."""
    while isinstance(expression, ParameterReference):
        expression = model.parameters[expression.name].expression
    return expression


def _missing(event: BasicEvent) -> Problem:
    line = event.placing.line
    message = "It has no probability."
    return Problem(message, "Give it an expression to quantify the tree.", f"basic event {event.name}", line=line)
