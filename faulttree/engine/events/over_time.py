"""How the probability of an event moves with time: its failure law, and where it is not smooth."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.events.failure_models import MODELS
from faulttree.engine.events.parts import is_timed, parts_of, resolve
from faulttree.engine.model import Call, Expression, MissionTime, Model

Values = NDArray[np.float64]

MAX_TESTS = 10_000  # of one event within a time grid
_CORNERED = frozenset(
    ("ite", "switch", "abs", "ceil", "floor", "min", "max", "mod", "not", "and", "or", "eq", "df", "lt", "gt")
) | {"leq", "geq"}


@dataclass(frozen=True, slots=True)
class FailureLaw:
    """A failure model at the mission time, times factors that do not depend on time.

    The factors are those of a common-cause group: an event with Q = c Q0 has w = c w0.
    """

    call: Call
    factors: tuple[Expression, ...] = ()

    def failure_intensity(self, evaluator: Evaluator, owner: str) -> Values:
        """Unconditional failure intensity w at the evaluator's times, per hour."""
        arguments = [evaluator.value(owner, argument) for argument in self.call.arguments]
        w = MODELS[self.call.function, len(arguments)].intensities(*arguments)[0]
        for factor in self.factors:
            w = w * evaluator.value(owner, factor)
        return w


def find_failure_law(model: Model, expression: Expression | None) -> FailureLaw | None:
    """Return the failure law of an expression, None when it has none that gives an intensity."""
    factors: list[Expression] = []
    while True:
        call = resolve(model, expression)
        if not isinstance(call, Call):
            return None
        if (call.function, len(call.arguments)) in MODELS:
            return FailureLaw(call, tuple(factors)) if _runs_with_mission(model, call) else None
        timed = [part for part in call.arguments if is_timed(model, part)]
        if call.function != "mul" or len(timed) != 1:
            return None
        factors.extend(part for part in call.arguments if part is not timed[0])
        expression = timed[0]


def _runs_with_mission(model: Model, call: Call) -> bool:
    """True when a failure model's last argument is the mission time and no other depends on it."""
    *others, last = call.arguments
    return isinstance(resolve(model, last), MissionTime) and not any(is_timed(model, other) for other in others)


def is_smooth(model: Model, expression: Expression | None) -> bool:
    """True when Q(t) has no jump or corner but those that `break_times` knows."""
    for part in parts_of(model, expression):
        if isinstance(part, Call) and is_timed(model, part):
            if part.function in _CORNERED:
                return False
            if part.function in ("periodic-test", "Weibull") and not _runs_with_mission(model, part):
                return False
    return True


def break_times(model: Model, owner: str, expression: Expression | None, start: float, stop: float) -> list[float]:
    """Instants within (start, stop) at which to cut an integral of Q(t) or w(t), in any order.

    The tests, at which Q jumps; the shift of a Weibull law and, since neither Q nor w is smooth
    there, instants that close in on it by halves. Raises BadModel past MAX_TESTS tests.
    """
    found: list[float] = []
    evaluator = Evaluator(model, stop)
    for part in parts_of(model, expression):
        if not isinstance(part, Call) or part.function not in ("periodic-test", "Weibull"):
            continue
        if _runs_with_mission(model, part):
            arguments = [float(evaluator.value(owner, argument)) for argument in part.arguments]
            cuts = _tests if part.function == "periodic-test" else _closing_in
            found.extend(cuts(owner, arguments, start, stop))
    return [t for t in found if start < t < stop]


def _tests(owner: str, arguments: list[float], start: float, stop: float) -> list[float]:
    interval, first = arguments[-3], arguments[-2]
    before = max(0, ceil((start - first) / interval))
    count = max(0, int((stop - first) / interval) + 1 - before)
    if count > MAX_TESTS:
        message = f"It is tested {count:,} times within the time grid; at most {MAX_TESTS:,} are followed."
        raise BadModel(Problem(message, "Take a shorter time grid.", owner))
    return [first + interval * k for k in range(before, before + count)]


def _closing_in(owner: str, arguments: list[float], start: float, stop: float) -> list[float]:
    """The shift, and points above it by halves.

    Until what is left holds about 1e-12 of Q, or the floating-point numbers beside the shift are
    too coarse: for a shape of 0.5 then about 1e-7 of Q is left, to be integrated as if it were smooth.
    """
    shape, shift = arguments[1:3]
    length = stop - max(shift, 0.0)
    finest = 2.0**-42 * abs(shift)
    steps = (length * 2.0**-k for k in range(1, min(ceil(40.0 / shape), 400) + 1))
    return [shift, *(shift + step for step in steps if step > finest)]
