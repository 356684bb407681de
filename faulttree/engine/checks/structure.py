"""Checks of names, references and formulas."""

from __future__ import annotations

from collections.abc import Iterator

from faulttree.engine.events.parts import parameters_in
from faulttree.engine.model import Combination, Connective, Expression, Formula, Model, Placing, references
from faulttree.engine.problems import Problems, suggest_name

_ARITY = {Connective.NOT: (1, 1), Connective.IMPLY: (2, 2), Connective.IFF: (2, None)}


def check_names(problems: Problems, model: Model) -> None:
    """No two gates and events share a name, whatever their kinds."""
    seen: dict[str, str] = {}
    kinds = (("gate", model.gates), ("basic event", model.basic_events), ("house event", model.house_events))
    for kind, elements in kinds:
        for name, element in elements.items():
            if name in seen:
                message = f"The name is also that of a {seen[name]}."
                problems.add(f"{kind} {name}", element.placing.line, message, "Rename one of the two.")
            seen[name] = kind


def check_event_references(problems: Problems, model: Model) -> None:
    """What a formula refers to is defined."""
    known = {**model.gates, **model.basic_events, **model.house_events}
    for gate in model.gates.values():
        for name in dict.fromkeys(references(gate.formula)):
            if name not in known:
                where = f"gate {gate.name}"
                problems.add(where, gate.placing.line, f"{name} is not defined.", suggest_name(name, known))


def check_parameter_references(problems: Problems, model: Model) -> bool:
    """What an expression refers to is defined; returns whether it is."""
    sound = True
    for element, placing, expression in expressions(model):
        for name in dict.fromkeys(parameters_in(expression)):
            if name not in model.parameters:
                sound = False
                message = f"The parameter {name} is not defined."
                problems.add(element, placing.line, message, suggest_name(name, model.parameters))
    return sound


def check_formulas(problems: Problems, model: Model) -> None:
    """Every connective has as many arguments as it needs, every count lies between 0 and their number."""
    for gate in model.gates.values():
        for part in _combinations(gate.formula):
            _check_combination(problems, f"gate {gate.name}", gate.placing, part)


def expressions(model: Model) -> Iterator[tuple[str, Placing, Expression]]:
    """Yield every expression of a model with the element it belongs to and where that stands."""
    for event in model.basic_events.values():
        if event.expression is not None:
            yield f"basic event {event.name}", event.placing, event.expression
    for parameter in model.parameters.values():
        yield f"parameter {parameter.name}", parameter.placing, parameter.expression
    for group in model.common_cause_groups.values():
        for expression in (group.distribution, *(factor for _, factor in group.factors)):
            yield f"common-cause group {group.name}", group.placing, expression


def _combinations(formula: Formula) -> Iterator[Combination]:
    stack = [formula]
    while stack:
        part = stack.pop()
        if isinstance(part, Combination):
            yield part
            stack.extend(reversed(part.arguments))


def _check_combination(problems: Problems, element: str, placing: Placing, part: Combination) -> None:
    count = len(part.arguments)
    least, most = _ARITY.get(part.connective, (1, None))
    if count < least or (most is not None and count > most):
        wanted = f"exactly {least}" if most == least else f"at least {least}"
        noun = "argument" if count == 1 else "arguments"
        problems.add(element, placing.line, f"{part.connective} has {count} {noun}.", f"Give it {wanted}.")
        return
    if part.connective not in (Connective.ATLEAST, Connective.CARDINALITY):
        return
    low, high = part.low or 0, part.high if part.high is not None else count
    if part.connective is Connective.ATLEAST and low < 1:
        message = f"At least {low} of {count} is always true."
        problems.add(element, placing.line, message, "Set min to 1 or more.")
    elif low > count or high > count:
        message = f"{max(low, high)} of {count} arguments can't be true."
        mend = f"Set min and max to {count} or less, or add arguments."
        problems.add(element, placing.line, message, mend)
    elif low < 0:
        problems.add(element, placing.line, f"min={low} is negative.", "Set min to 0 or more.")
    elif low > high:
        problems.add(element, placing.line, f"min={low} is above max={high}.", "Exchange the two.")
