"""The expression that an event has once its value, its rate or its test interval is changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from faulttree.engine.editing.names import propose_name
from faulttree.engine.effects.kinds import Effect, EffectKind
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.functions import DEVIATES
from faulttree.engine.events.parts import resolve
from faulttree.engine.model import Call, Expression, Model, Number, Parameter, ParameterReference

Places = Mapping[tuple[str, int], int]

RATES: Places = {("exponential", 2): 0, ("GLM", 4): 1, ("periodic-test", 4): 0, ("periodic-test", 5): 0}
"""Function and number of arguments -> which argument is the failure rate; a Weibull law has none."""
INTERVALS: Places = {("periodic-test", 4): 1, ("periodic-test", 5): 2}
"""The same of the time between tests; the first test is the argument after it."""

_ORDER = (EffectKind.REPLACED, EffectKind.INTERVAL, EffectKind.MULTIPLIED)


def change_value(model: Model, name: str, effects: Sequence[Effect]) -> Expression | None:
    """Return the expression of an event under effects on its value: replaced first, then interval, then multiplied.

    Parameters stay as they are: where one holds the failure model, the event gets the model itself. Raises BadModel for
    an event without a value, a rate or an interval to change.
    """
    expression = model.basic_events[name].expression
    done: set[Effect] = set()
    for kind in _ORDER:
        for effect in effects:
            same = replace(effect, option="")  # two options that replace by the same value replace once
            if effect.kind != kind or (kind != EffectKind.MULTIPLIED and same in done):
                continue
            done.add(same)
            expression = _change(model, name, expression, effect)
    return expression


def has_rate(model: Model, name: str) -> bool:
    """Tell whether an event has a failure rate that can be changed."""
    return _alter(model, model.basic_events[name].expression, RATES, lambda call, _: call) is not None


def is_tested(model: Model, name: str) -> bool:
    """Tell whether an event is tested periodically."""
    return _alter(model, model.basic_events[name].expression, INTERVALS, lambda call, _: call) is not None


def _change(model: Model, name: str, expression: Expression | None, effect: Effect) -> Expression:
    amount = Number(effect.amount)
    if effect.kind == EffectKind.INTERVAL:
        changed = _alter(model, expression, INTERVALS, lambda call, place: _retime(call, place, amount))
        return changed or _refuse(name, "is not tested periodically, so it has no test interval.")
    if effect.of == "rate":
        changed = _alter(model, expression, RATES, lambda call, place: _rerate(call, place, effect))
        return changed or _refuse(name, "has no failure rate that can be told apart in its expression.")
    if effect.kind == EffectKind.REPLACED:
        return amount
    if expression is None:
        _refuse(name, "has no probability yet that could be multiplied.")
    assert expression is not None
    return Call("mul", (amount, expression))


def _refuse(name: str, what: str) -> Expression:
    mend = "Replace or multiply its probability instead, or give it another failure model in the tree."
    raise BadModel(Problem(f"{name} {what}", mend, f"basic event {name}"))


def _alter(
    model: Model, expression: Expression | None, places: Places, alter: Callable[[Call, int], Call]
) -> Call | None:
    """Return the expression with its one failure model altered; None where there is none, or more than one.

    Follows bare parameters and the factors of a product, as deep as one expression is nested.
    """
    call = resolve(model, expression)
    if not isinstance(call, Call):
        return None
    place = places.get((call.function, len(call.arguments)))
    if place is not None:
        return alter(call, place)
    if call.function != "mul":
        return None
    found = [_alter(model, argument, places, alter) for argument in call.arguments]
    if sum(each is not None for each in found) != 1:
        return None
    return Call("mul", tuple(new or old for new, old in zip(found, call.arguments, strict=True)))


def _put(call: Call, place: int, argument: Expression) -> Call:
    return Call(call.function, (*call.arguments[:place], argument, *call.arguments[place + 1 :]))


def _rerate(call: Call, place: int, effect: Effect) -> Call:
    amount = Number(effect.amount)
    return _put(call, place, amount if effect.kind == EffectKind.REPLACED else _times(amount, call.arguments[place]))


def _times(factor: Number, rate: Expression) -> Call:
    return Call("mul", (factor, rate))


def _retime(call: Call, place: int, hours: Number) -> Call:
    """A first test that came after one whole interval comes after the new one."""
    first = call.arguments[place + 1]
    changed = _put(call, place, hours)
    return _put(changed, place + 1, hours) if first == call.arguments[place] else changed


def part_draws(model: Model, effects: Sequence[Effect]) -> Model:
    """Return the same model, with the random parts of failure models that parameters hold as parameters of their own.

    An event that leaves such a parameter then still shares its draws with the others.
    """
    for effect in effects:
        changes_model = effect.kind == EffectKind.INTERVAL or effect.of == "rate"
        if changes_model and effect.target in model.basic_events:
            model = _part(model, model.basic_events[effect.target].expression)
    return model


def _part(model: Model, expression: Expression | None) -> Model:
    name = ""
    while isinstance(expression, ParameterReference):
        name = expression.name
        expression = model.parameters[name].expression
    if not isinstance(expression, Call) or (
        expression.function != "mul" and (expression.function, len(expression.arguments)) not in RATES
    ):
        return model
    if name:
        model, expression = _lift(model, name, expression)
    if expression.function == "mul":
        for argument in expression.arguments:
            model = _part(model, argument)
    return model


def _lift(model: Model, name: str, call: Call) -> tuple[Model, Call]:
    parameters = dict(model.parameters)
    holder = parameters[name]
    arguments = []
    for place, argument in enumerate(call.arguments, 1):
        if _draws(argument):
            own = propose_name(f"{name.rsplit('.', 1)[-1]}-part-{place}", parameters)
            placing = replace(holder.placing, role="public", attributes=(), label=f"of the parameter {name}")
            parameters[own] = Parameter(own, argument, "", placing)
            argument = ParameterReference(own)
        arguments.append(argument)
    changed = Call(call.function, tuple(arguments))
    parameters[name] = replace(holder, expression=changed)
    return replace(model, parameters=parameters), changed


def _draws(expression: Expression) -> bool:
    """True when the expression itself, not a parameter of it, holds a random deviate."""
    stack = [expression]
    while stack:
        part = stack.pop()
        if isinstance(part, Call):
            if part.function in DEVIATES:
                return True
            stack.extend(part.arguments)
    return False
