"""Checks of numbers that can be had before a mission time is chosen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from faulttree.engine.errors import BadModel
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.events.failure_models import MODELS
from faulttree.engine.events.parts import parameters_in
from faulttree.engine.events.table import ROUNDING
from faulttree.engine.model import Call, Expression, MissionTime, Model, Number, ParameterReference, Placing
from faulttree.engine.problems import Problems

PHI_ROUNDING = 0.005  # how far from 1 the sum of printed phi factors may be


def check_values(problems: Problems, model: Model) -> None:
    """Probabilities and factors lie in [0, 1], rates are not negative, wherever no mission time is needed.

    References must be sound. What depends on the mission time is checked when it is evaluated.
    """
    check = _Values(problems, model, Evaluator(model, None), find_timed_parameters(model))
    for name, parameter in model.parameters.items():
        check.value(f"parameter {name}", parameter.placing, parameter.expression)
    for name, event in model.basic_events.items():
        if event.expression is not None:
            check.share(f"basic event {name}", event.placing, event.expression, "probability")
    for name, group in model.common_cause_groups.items():
        element = f"common-cause group {name}"
        check.share(element, group.placing, group.distribution, "probability")
        factors = [check.share(element, group.placing, factor, f"factor {level}") for level, factor in group.factors]
        known = [factor for factor in factors if factor is not None]
        if (
            group.model == "phi-factor"
            and known
            and len(known) == len(factors)
            and abs(sum(known) - 1.0) > PHI_ROUNDING
        ):
            message = f"The phi factors add up to {sum(known):g}."
            mend = "They are shares of a member's total and must add up to 1."
            problems.add(element, group.placing.line, message, mend)


def find_timed_parameters(model: Model) -> frozenset[str]:
    """Names of the parameters that depend on the mission time, by themselves or through others."""
    users: dict[str, list[str]] = {name: [] for name in model.parameters}
    timed: set[str] = set()
    for name, parameter in model.parameters.items():
        for used in parameters_in(parameter.expression):
            users[used].append(name)
        if any(isinstance(part, MissionTime) for part in _parts(parameter.expression)):
            timed.add(name)
    waiting = list(timed)
    while waiting:
        fresh = [user for user in users[waiting.pop()] if user not in timed]
        timed.update(fresh)
        waiting.extend(fresh)
    return frozenset(timed)


@dataclass
class _Values:
    """Evaluates what needs no mission time; what fails is noted once, at the element it belongs to."""

    problems: Problems
    model: Model
    evaluator: Evaluator
    timed_parameters: frozenset[str]
    noted: set[tuple[str, str]] = field(default_factory=set)

    def share(self, element: str, placing: Placing, expression: Expression, noun: str) -> float | None:
        """Check that an expression lies in [0, 1]; returns its value, None where that isn't known."""
        value = self.value(element, placing, expression)
        if value is not None and not -ROUNDING <= value <= 1.0 + ROUNDING:
            message = f"The {noun} is {value:g}, outside [0, 1]."
            self._note(element, placing.line, message, "Give a number from 0 to 1.")
            return None
        return value

    def value(self, element: str, placing: Placing, expression: Expression) -> float | None:
        """Check an expression or, when it needs the mission time, those parts that don't."""
        if isinstance(expression, Number):
            return expression.value
        if not self._timed(expression):
            return self._evaluate(element, placing, expression)
        stack: list[Expression] = [expression]
        while stack:
            part = stack.pop()
            if not self._timed(part):
                self._evaluate(element, placing, part)
            elif isinstance(part, Call):
                guarded = part.function in ("ite", "switch")  # a case may be wrong where it is not chosen
                stack.extend(reversed(part.arguments[:1] if guarded else part.arguments))
                self._check_ranges(element, placing, part)
        return None

    def _check_ranges(self, element: str, placing: Placing, call: Call) -> None:
        """Arguments of a failure model that need no mission time lie in their ranges."""
        model = MODELS.get((call.function, len(call.arguments)))
        for argument, expression in zip(model.arguments if model else (), call.arguments, strict=False):
            if self._timed(expression):
                continue
            value = self._evaluate(element, placing, expression)
            low, high = argument.low, argument.high
            if value is not None and (not low <= value <= high or (argument.strict and value == low)):
                message = f"The {argument.name} of {call.function} is {value:g}; it must be {argument.wanted}."
                self._note(element, placing.line, message, "Correct it.")

    def _evaluate(self, element: str, placing: Placing, expression: Expression) -> float | None:
        try:
            return float(self.evaluator.value(element, expression))
        except BadModel as refused:
            for problem in refused.problems:
                owner = self.model.parameters.get(problem.element.removeprefix("parameter "))
                line = owner.placing.line if owner and problem.element != element else placing.line
                self._note(problem.element, line, problem.message, problem.mend)
            return None

    def _timed(self, expression: Expression) -> bool:
        return any(
            isinstance(part, MissionTime)
            or (isinstance(part, ParameterReference) and part.name in self.timed_parameters)
            for part in _parts(expression)
        )

    def _note(self, element: str, line: int | None, message: str, mend: str) -> None:
        if (element, message) not in self.noted:
            self.noted.add((element, message))
            self.problems.add(element, line, message, mend)


def _parts(expression: Expression) -> Iterator[Expression]:
    stack = [expression]
    while stack:
        part = stack.pop()
        yield part
        if isinstance(part, Call):
            stack.extend(part.arguments)
