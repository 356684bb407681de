"""Values of expressions: at one time, over a time grid, or for many samples at once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events import deviates
from faulttree.engine.events.failure_models import MODELS
from faulttree.engine.events.functions import DEVIATES
from faulttree.engine.model import Call, Expression, MissionTime, Model, Number, ParameterReference

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sampling:
    """Which samples are drawn: rows start..stop-1 of `samples`, by a seed; see `draw_uniform`."""

    samples: int
    seed: int
    method: str  # "monte-carlo" or "latin-hypercube"
    start: int
    stop: int


def draw_uniform(sampling: Sampling, owner: str, position: int) -> Values:
    """Uniform numbers of one deviate, float64[stop - start], strictly between 0 and 1.

    They depend on the seed, on whose deviate it is and on its place there, on nothing else: so a
    run can be split into blocks, and two models that share an event share its draws.
    """
    digest = hashlib.blake2b(f"{owner}#{position}".encode(), digest_size=8).digest()
    words = [int.from_bytes(digest[:4], "big"), int.from_bytes(digest[4:], "big")]
    generator = np.random.Generator(np.random.Philox(np.random.SeedSequence([sampling.seed, *words])))
    u = generator.random(sampling.samples)
    if sampling.method == "latin-hypercube":
        u = (generator.permutation(sampling.samples) + u) / sampling.samples
    return np.clip(u[sampling.start : sampling.stop], 1e-300, 1.0 - 2.0**-53)


_ONE: dict[str, Callable[[Values], Any]] = {
    "neg": np.negative, "abs": np.abs, "acos": np.arccos, "asin": np.arcsin, "atan": np.arctan, "cos": np.cos,
    "cosh": np.cosh, "exp": np.exp, "log": np.log, "log10": np.log10, "sin": np.sin, "sinh": np.sinh, "tan": np.tan,
    "tanh": np.tanh, "sqrt": np.sqrt, "ceil": np.ceil, "floor": np.floor, "not": lambda x: 1.0 * (x == 0.0),
}  # fmt: skip
_TWO: dict[str, Callable[[Values, Values], Any]] = {
    "add": np.add, "sub": np.subtract, "mul": np.multiply, "div": np.divide, "min": np.minimum, "max": np.maximum,
    "mod": np.mod, "pow": np.power, "and": lambda x, y: 1.0 * ((x != 0.0) & (y != 0.0)),
    "or": lambda x, y: 1.0 * ((x != 0.0) | (y != 0.0)), "eq": lambda x, y: 1.0 * (x == y),
    "df": lambda x, y: 1.0 * (x != y), "lt": lambda x, y: 1.0 * (x < y), "gt": lambda x, y: 1.0 * (x > y),
    "leq": lambda x, y: 1.0 * (x <= y), "geq": lambda x, y: 1.0 * (x >= y),
}  # fmt: skip


class Evaluator:
    """Evaluates the expressions of one model under one mission time and one set of draws.

    mission_time : float or float64[T], hours; None when the model must not need it
    sampling : None gives deviates their mean
    A parameter is evaluated once, so its draws are shared by everything that refers to it.
    """

    def __init__(self, model: Model, mission_time: float | Values | None, sampling: Sampling | None = None) -> None:
        self._model = model
        self._time = None if mission_time is None else np.asarray(mission_time, np.float64)
        self._sampling = sampling
        self._parameters: dict[str, Values] = {}

    def value(self, owner: str, expression: Expression) -> Values:
        """Value of an expression, a scalar array or one value per time or sample; owner for messages and draws."""
        self._prepare(expression)
        return self._evaluate(owner, expression, [0])

    def _prepare(self, expression: Expression) -> None:
        """Evaluate the parameters below an expression, those without parameters of their own first."""
        stack = list(_parameters_in(expression))
        while stack:
            name = stack[-1]
            if name in self._parameters:
                stack.pop()
                continue
            body = self._model.parameters[name].expression
            missing = [inner for inner in _parameters_in(body) if inner not in self._parameters]
            if missing:
                stack.extend(missing)
                continue
            self._parameters[name] = self._evaluate(f"parameter {name}", body, [0])
            stack.pop()

    def _evaluate(self, owner: str, expression: Expression, position: list[int]) -> Values:
        """Recursion is as deep as one expression is nested; `position` numbers its deviates."""
        if isinstance(expression, Number):
            return np.asarray(expression.value, np.float64)
        if isinstance(expression, ParameterReference):
            return self._parameters[expression.name]
        if isinstance(expression, MissionTime):
            if self._time is None:
                raise _refuse(
                    owner, "It depends on the mission time, and none is given.", "Give a mission time in hours."
                )
            return self._time
        arguments = [self._evaluate(owner, argument, position) for argument in expression.arguments]
        with np.errstate(all="ignore"):
            result = self._apply(owner, expression, arguments, position)
        if not np.all(np.isfinite(result)):
            raise _refuse(owner, f"{expression.function} gives no finite number here.", "Check its arguments.")
        return result

    def _apply(self, owner: str, call: Call, arguments: list[Values], position: list[int]) -> Values:
        name = call.function
        if name in _ONE:
            return np.asarray(_ONE[name](arguments[0]))
        if name in _TWO:
            result = arguments[0]
            for argument in arguments[1:]:
                result = np.asarray(_TWO[name](result, argument))
            return result
        if name in DEVIATES:
            return self._deviate(owner, call, arguments, position)
        if (name, len(arguments)) in MODELS:
            _check_model_arguments(owner, name, arguments)
            return np.asarray(MODELS[name, len(arguments)][0](*arguments))
        if name == "mean":
            return np.asarray(sum(arguments) / len(arguments))
        if name == "pi":
            return np.asarray(np.pi)
        cases = list(zip(arguments[:-1:2], arguments[1::2], strict=False))  # ite and switch
        return np.asarray(np.select([np.asarray(c != 0.0) for c, _ in cases], [v for _, v in cases], arguments[-1]))

    def _deviate(self, owner: str, call: Call, arguments: list[Values], position: list[int]) -> Values:
        fault = deviates.find_fault(call.function, arguments)
        if fault:
            raise _refuse(owner, f"{call.function}: {fault}", "Correct its arguments.")
        index = position[0]
        position[0] += 1
        if self._sampling is None:
            return np.asarray(deviates.mean_of(call.function, arguments))
        u = draw_uniform(self._sampling, owner, index)
        return np.asarray(deviates.quantile_of(call.function, arguments, u))


def _check_model_arguments(owner: str, name: str, arguments: list[Values]) -> None:
    if name == "Weibull":
        if np.any(arguments[0] <= 0.0) or np.any(arguments[1] <= 0.0):
            raise _refuse(owner, "The scale and the shape of a Weibull law must be above 0.", "Correct them.")
    elif any(np.any(argument < 0.0) for argument in arguments):
        raise _refuse(owner, f"An argument of {name} is negative.", "Rates, times and probabilities are 0 or more.")
    if name == "periodic-test" and np.any(arguments[-3] <= 0.0):
        raise _refuse(owner, "The test interval must be above 0.", "Give the hours between two tests.")
    if name == "GLM" and np.any(arguments[0] > 1.0):
        raise _refuse(owner, "The probability on demand is above 1.", "Give a number from 0 to 1.")


def _parameters_in(expression: Expression) -> list[str]:
    found = []
    stack = [expression]
    while stack:
        part = stack.pop()
        if isinstance(part, ParameterReference):
            found.append(part.name)
        elif isinstance(part, Call):
            stack.extend(part.arguments)
    return found


def _refuse(owner: str, message: str, mend: str) -> BadModel:
    return BadModel(Problem(message, mend, owner))


def depends_on(model: Model, expression: Expression | None, wanted: Callable[[Expression], bool]) -> bool:
    """True when some part of an expression, parameters followed, satisfies `wanted`."""
    stack = [expression] if expression is not None else []
    seen: set[str] = set()
    while stack:
        part = stack.pop()
        if wanted(part):
            return True
        if isinstance(part, Call):
            stack.extend(part.arguments)
        elif isinstance(part, ParameterReference) and part.name not in seen:
            seen.add(part.name)
            stack.append(model.parameters[part.name].expression)
    return False


def is_timed(model: Model, expression: Expression | None) -> bool:
    """True when an expression depends on the mission time."""
    return depends_on(model, expression, lambda part: isinstance(part, MissionTime))


def is_random(model: Model, expression: Expression | None) -> bool:
    """True when an expression holds a random deviate."""
    return depends_on(model, expression, lambda part: isinstance(part, Call) and part.function in DEVIATES)
