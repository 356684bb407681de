"""Whether a model makes sense: all its faults at once, each with what to do about it."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import networkx as nx

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import (
    Call,
    Combination,
    CommonCauseGroup,
    Connective,
    Expression,
    Formula,
    Model,
    Number,
    ParameterReference,
    Placing,
    references,
)

MAX_PROBLEMS = 100
PHI_ROUNDING = 0.005  # how far from 1 the sum of printed phi factors may be

_ARITY = {Connective.NOT: (1, 1), Connective.IMPLY: (2, 2), Connective.IFF: (2, None)}


@dataclass
class _Check:
    file: str
    problems: list[Problem] = field(default_factory=list)

    def refuse(self, element: str, placing: Placing | None, message: str, mend: str) -> None:
        line = placing.line if placing is not None else None
        self.problems.append(Problem(message, mend, element, self.file, line))


def check_model(model: Model, *, file: str = "") -> None:
    """Raise BadModel with every problem of the model: references, cycles, counts, constants, groups."""
    check = _Check(file)
    _check_references(check, model)
    for gate in model.gates.values():
        for part in _combinations(gate.formula):
            _check_combination(check, f"gate {gate.name}", gate.placing, part)
    if not check.problems:
        _check_cycles(check, model)
    for event in model.basic_events.values():
        _check_probability(check, f"basic event {event.name}", event.placing, event.expression)
    for parameter in model.parameters.values():
        _check_rates(check, f"parameter {parameter.name}", parameter.placing, parameter.expression)
    _check_groups(check, model)
    if check.problems:
        raise BadModel(*check.problems[:MAX_PROBLEMS])


def find_tops(model: Model) -> tuple[str, ...]:
    """Return the gates that no other gate uses, in the order of the source."""
    used = {name for gate in model.gates.values() for name in references(gate.formula)}
    return tuple(name for name in model.gates if name not in used)


def choose_top(model: Model, top: str | None = None) -> str:
    """Return the top event asked for, or the only one there is; raises BadModel when that is not clear."""
    if top is not None:
        if top in model.gates:
            return top
        near = difflib.get_close_matches(top, model.gates, 3, 0.6)
        mend = "Did you mean " + " or ".join(near) + "?" if near else "Name one of the gates."
        raise BadModel(Problem(f"There is no gate {top}.", mend, "top"))
    tops = find_tops(model)
    if len(tops) == 1:
        return tops[0]
    if not tops:
        raise BadModel(Problem("The model has no gate.", "Define at least one gate.", "top"))
    raise BadModel(Problem(f"There are {len(tops)} top events: {', '.join(tops)}.", "Choose one of them.", "top"))


def _check_references(check: _Check, model: Model) -> None:
    known = {**model.gates, **model.basic_events, **model.house_events}
    total = len(model.gates) + len(model.basic_events) + len(model.house_events)
    if len(known) < total:
        for name in known:
            kinds = [k for k in (model.gates, model.basic_events, model.house_events) if name in k]
            if len(kinds) > 1:
                check.refuse(name, kinds[1][name].placing, "The name is given to two events.", "Rename one of the two.")
    for gate in model.gates.values():
        for name in dict.fromkeys(references(gate.formula)):
            if name not in known:
                check.refuse(f"gate {gate.name}", gate.placing, f"{name} is not defined.", _suggest(name, known))
    for element, placing, expression in _expressions(model):
        for part in _parts(expression):
            if isinstance(part, ParameterReference) and part.name not in model.parameters:
                message = f"The parameter {part.name} is not defined."
                check.refuse(element, placing, message, _suggest(part.name, model.parameters))


def _suggest(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, list(known), 3, 0.7)
    return "Did you mean " + " or ".join(near) + "?" if near else "Define it or correct the name."


def _combinations(formula: Formula) -> Iterator[Combination]:
    stack = [formula]
    while stack:
        part = stack.pop()
        if isinstance(part, Combination):
            yield part
            stack.extend(part.arguments)


def _check_combination(check: _Check, element: str, placing: Placing, part: Combination) -> None:
    count = len(part.arguments)
    least, most = _ARITY.get(part.connective, (1, None))
    if count < least or (most is not None and count > most):
        wanted = f"exactly {least}" if most == least else f"at least {least}"
        message = f"{part.connective} has {count} arguments."
        check.refuse(element, placing, message, f"Give it {wanted}.")
        return
    if part.connective not in (Connective.ATLEAST, Connective.CARDINALITY):
        return
    low, high = part.low or 0, part.high if part.high is not None else count
    if part.connective == Connective.ATLEAST and low < 1:
        check.refuse(element, placing, f"At least {low} of {count} is always true.", "Set min to 1 or more.")
    if low > count or high > count:
        message = f"{max(low, high)} of {count} arguments can't be true."
        check.refuse(element, placing, message, f"Set min and max to {count} or less, or add arguments.")
    elif low > high:
        check.refuse(element, placing, f"min={low} is above max={high}.", "Exchange the two.")


def _check_cycles(check: _Check, model: Model) -> None:
    gates = {name: references(gate.formula) for name, gate in model.gates.items()}
    _check_cycle(check, "gate", gates, lambda name: model.gates[name].placing)
    parameters = {
        name: (part.name for part in _parts(parameter.expression) if isinstance(part, ParameterReference))
        for name, parameter in model.parameters.items()
    }
    _check_cycle(check, "parameter", parameters, lambda name: model.parameters[name].placing)


def _check_cycle(
    check: _Check, kind: str, uses: Mapping[str, Iterable[str]], placing: Callable[[str], Placing]
) -> None:
    graph = nx.DiGraph((name, child) for name, below in uses.items() for child in below if child in uses)
    for component in nx.strongly_connected_components(graph):
        first = next(iter(component))
        if len(component) > 1 or graph.has_edge(first, first):
            start = min(component, key=list(uses).index)
            path = [edge[0] for edge in nx.find_cycle(graph.subgraph(component), start)]
            message = "The definition goes round in a circle: " + " > ".join([*path, path[0]]) + "."
            check.refuse(f"{kind} {path[0]}", placing(path[0]), message, "Break the circle at one of these.")


def _expressions(model: Model) -> Iterator[tuple[str, Placing, Expression]]:
    for event in model.basic_events.values():
        if event.expression is not None:
            yield f"basic event {event.name}", event.placing, event.expression
    for parameter in model.parameters.values():
        yield f"parameter {parameter.name}", parameter.placing, parameter.expression
    for group in model.common_cause_groups.values():
        for expression in (group.distribution, *(factor for _, factor in group.factors)):
            yield f"common-cause group {group.name}", group.placing, expression


def _parts(expression: Expression) -> Iterator[Expression]:
    stack = [expression]
    while stack:
        part = stack.pop()
        yield part
        if isinstance(part, Call):
            stack.extend(part.arguments)


def _check_probability(check: _Check, element: str, placing: Placing, expression: Expression | None) -> None:
    if isinstance(expression, Number) and not 0.0 <= expression.value <= 1.0:
        message = f"The probability {expression.value:g} is outside [0, 1]."
        check.refuse(element, placing, message, "Give a number from 0 to 1.")
    elif expression is not None:
        _check_rates(check, element, placing, expression)


_RATES = {"exponential": ("failure rate",), "GLM": (None, "failure rate", "repair rate"), "Weibull": ("scale", "shape")}


def _check_rates(check: _Check, element: str, placing: Placing, expression: Expression) -> None:
    """Constants of the built-in failure models that can't be negative; others are seen when evaluated."""
    for part in _parts(expression):
        if not isinstance(part, Call):
            continue
        names = _RATES.get(part.function, ())
        if part.function == "periodic-test":
            names = ("failure rate", "test interval") if len(part.arguments) == 4 else ("failure rate", "repair rate")
        for name, argument in zip(names, part.arguments, strict=False):
            if name and isinstance(argument, Number) and argument.value < 0.0:
                message = f"The {name} {argument.value:g} of {part.function} is negative."
                check.refuse(element, placing, message, f"Give a {name} of 0 or more.")


def _check_groups(check: _Check, model: Model) -> None:
    seen: dict[str, str] = {}
    for group in model.common_cause_groups.values():
        element = f"common-cause group {group.name}"
        for member in group.members:
            if member not in model.basic_events:
                message = f"The member {member} is not a basic event."
                check.refuse(element, group.placing, message, _suggest(member, model.basic_events))
            if member in seen:
                message = f"{member} is already a member of {seen[member]}."
                check.refuse(element, group.placing, message, "An event belongs to one group at most.")
            seen[member] = group.name
        _check_factors(check, element, group)


def _check_factors(check: _Check, element: str, group: CommonCauseGroup) -> None:
    size = len(group.members)
    if size < 2:
        check.refuse(element, group.placing, f"The group has {size} members.", "A group needs two or more.")
        return
    wanted = {
        "beta-factor": [[2], [size]],
        "MGL": [list(range(2, size + 1))],
        "alpha-factor": [list(range(1, size + 1))],
        "phi-factor": [list(range(1, size + 1))],
    }
    levels = [level for level, _ in group.factors]
    if group.model not in wanted:
        check.refuse(element, group.placing, f"There is no model {group.model}.", f"Use {', '.join(wanted)}.")
        return
    if levels not in wanted[group.model]:
        text = ", ".join(map(str, wanted[group.model][-1]))
        message = (
            f"{group.model} with {size} members has factors for the levels {', '.join(map(str, levels)) or 'none'}."
        )
        check.refuse(element, group.placing, message, f"Give one factor for each of the levels {text}.")
    _check_factor_values(check, element, group)


def _check_factor_values(check: _Check, element: str, group: CommonCauseGroup) -> None:
    """Constant factors are shares; those of phi-factor are of one whole (open to rounding in print)."""
    values = [factor.value for _, factor in group.factors if isinstance(factor, Number)]
    for value in values:
        if not 0.0 <= value <= 1.0:
            check.refuse(
                element, group.placing, f"The factor {value:g} is outside [0, 1].", "Give a share from 0 to 1."
            )
    if group.model == "phi-factor" and len(values) == len(group.factors) and abs(sum(values) - 1.0) > PHI_ROUNDING:
        message = f"The phi factors add up to {sum(values):g}."
        check.refuse(element, group.placing, message, "They are shares of a member's total and must add up to 1.")
