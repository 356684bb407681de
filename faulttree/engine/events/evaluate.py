"""Values of expressions: at one time, over a time grid, or for many samples at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events import deviates
from faulttree.engine.events.arithmetic import ANY_NUMBER, FOLDED, ONE_ARGUMENT
from faulttree.engine.events.failure_models import MODELS
from faulttree.engine.events.functions import BUILT_INS, DEVIATES, FUNCTIONS
from faulttree.engine.events.parts import parameters_in
from faulttree.engine.events.sampling import Sampling, Source, draw_uniform
from faulttree.engine.model import Expression, MissionTime, Model, Number, ParameterReference

Values = NDArray[np.float64]
Truths = NDArray[np.bool_]


@dataclass(slots=True)
class _Frame:
    """Where evaluation stands in one expression.

    deviates : how many were met so far; numbers the draws
    where : the times or samples for which the value counts, all but inside an ite or a switch
    """

    owner: str
    deviates: int = 0
    where: Truths = field(default_factory=lambda: np.asarray(True))

    def counting(self, values: list[Values]) -> list[Values]:
        """The values that count, the same shape for all."""
        if self.where.all():
            return values
        *spread, where = np.broadcast_arrays(*values, self.where)
        return [value[where] for value in spread]


class Evaluator:
    """Evaluates the expressions of one model under one mission time and one set of draws.

    mission_time : float or float64[T], hours; None when the model must not need it
    sampling : None gives deviates their mean
    clipped : how many draws made an argument of a failure model leave its range and were cut to the bound
    drawn : the values of each deviate, by whose it is and its place there; empty without sampling
    A parameter is evaluated once, so its draws are shared by everything that refers to it.
    """

    def __init__(self, model: Model, mission_time: float | Values | None, sampling: Sampling | None = None) -> None:
        self._model = model
        self._time = None if mission_time is None else np.asarray(mission_time, np.float64)
        self._sampling = sampling
        self._parameters: dict[str, Values] = {}
        self.clipped = 0
        self.drawn: dict[Source, Values] = {}

    def value(self, owner: str, expression: Expression) -> Values:
        """Value of an expression, a scalar array or one value per time or sample; owner for messages and draws.

        Raises BadModel naming the owner, or the parameter below it, that has no value.
        """
        self._prepare(expression)
        return self._evaluate(_Frame(owner), expression)

    def _prepare(self, expression: Expression) -> None:
        """Evaluate the parameters below an expression, those without parameters of their own first."""
        stack = list(parameters_in(expression))
        while stack:
            name = stack[-1]
            if name in self._parameters:
                stack.pop()
                continue
            body = self._model.parameters[name].expression
            missing = [inner for inner in parameters_in(body) if inner not in self._parameters]
            if missing:
                stack.extend(missing)
                continue
            self._parameters[name] = self._evaluate(_Frame(f"parameter {name}"), body)
            stack.pop()

    def _evaluate(self, frame: _Frame, expression: Expression) -> Values:
        """Recursion is as deep as one expression is nested."""
        if isinstance(expression, Number):
            return np.asarray(expression.value, np.float64)
        if isinstance(expression, ParameterReference):
            return self._parameters[expression.name]
        if isinstance(expression, MissionTime):
            if self._time is None:
                message = "It depends on the mission time, and none is given."
                raise _refuse(frame.owner, message, "Give a mission time in hours.")
            return self._time
        function = FUNCTIONS.get(expression.function)
        if function is None or not function.accepts(len(expression.arguments)):
            message = f"{expression.function} with {len(expression.arguments)} arguments is no function known here."
            raise _refuse(frame.owner, message, f"It takes {function.wanted}." if function else "Rewrite it.")
        if expression.function in ("ite", "switch"):
            return self._choose(frame, expression.arguments)
        arguments = [self._evaluate(frame, argument) for argument in expression.arguments]
        with np.errstate(all="ignore"):
            result = np.asarray(self._apply(frame, expression.function, arguments), np.float64)
        if not np.all(np.isfinite(result) | ~frame.where):
            raise _refuse(frame.owner, f"{expression.function} gives no finite number here.", "Check its arguments.")
        return result

    def _choose(self, frame: _Frame, arguments: tuple[Expression, ...]) -> Values:
        """Value of the first case whose condition holds, else the last argument.

        Every case is evaluated, so that draws keep their numbers, but checked only where it is chosen:
        `ite` may guard a division by zero.
        """
        outer = left = frame.where
        result: Values = np.zeros(())
        for condition, value in zip(arguments[:-1:2], arguments[1::2], strict=True):
            frame.where = left
            holds = self._evaluate(frame, condition) != 0.0
            frame.where = left & holds
            result = np.where(frame.where, self._evaluate(frame, value), result)
            left = left & ~holds
        frame.where = left
        result = np.where(left, self._evaluate(frame, arguments[-1]), result)
        frame.where = outer
        return result

    def _apply(self, frame: _Frame, name: str, arguments: list[Values]) -> Values:
        if name in ONE_ARGUMENT:
            return ONE_ARGUMENT[name](arguments[0])
        if name in FOLDED:
            return reduce(FOLDED[name], arguments)
        if name in DEVIATES:
            return self._deviate(frame, name, arguments)
        if name in BUILT_INS:
            return MODELS[name, len(arguments)].unavailability(*self._bounded(frame, name, arguments))
        return ANY_NUMBER[name](arguments)

    def _deviate(self, frame: _Frame, name: str, arguments: list[Values]) -> Values:
        fault = deviates.find_fault(name, frame.counting(arguments))
        if fault:
            raise _refuse(frame.owner, f"{name}: {fault}", "Correct its arguments.")
        index = frame.deviates
        frame.deviates += 1
        if self._sampling is None:
            return deviates.mean_of(name, arguments)
        values = deviates.quantile_of(name, arguments, draw_uniform(self._sampling, frame.owner, index))
        self.drawn[Source(frame.owner, index)] = values
        return values

    def _bounded(self, frame: _Frame, name: str, arguments: list[Values]) -> list[Values]:
        """Arguments of a failure model within their ranges; a draw outside is cut to the bound and counted."""
        bounded = []
        for value, argument in zip(arguments, MODELS[name, len(arguments)].arguments, strict=True):
            low, high = argument.low, argument.high
            counting = frame.counting([value])[0]
            outside = (counting < low) | (counting > high)
            wrong = outside | (counting <= low) if argument.strict else outside
            if not np.any(wrong):
                bounded.append(value)
                continue
            if self._sampling is None or argument.strict:
                first = float(np.atleast_1d(counting)[np.atleast_1d(wrong)][0])
                message = f"The {argument.name} of {name} is {first:g}; it must be {argument.wanted}."
                raise _refuse(frame.owner, message, "Correct it.")
            self.clipped += int(np.count_nonzero(outside))
            bounded.append(np.clip(value, low, high))
        return bounded


def _refuse(owner: str, message: str, mend: str) -> BadModel:
    return BadModel(Problem(message, mend, owner))
