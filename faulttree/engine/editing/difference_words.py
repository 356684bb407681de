"""What is different between two states of one element, in whole sentences."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from faulttree.engine.editing.marks import LIBRARY, TRANSFER, read_mark
from faulttree.engine.model import (
    BasicEvent,
    Combination,
    CommonCauseGroup,
    Connective,
    Container,
    Expression,
    Formula,
    Gate,
    HouseEvent,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Placing,
    Reference,
    Truth,
)

NAMES = {Connective.XOR: "exclusive OR", Connective.IFF: "equivalence", Connective.IMPLY: "implication"}


def say_number(value: float) -> str:
    """Return a number as short as it may be without saying another one: 0.1, 2.5e-06."""
    short = f"{value:g}"
    return short if float(short) == value else repr(value)


def say_expression(expression: Expression | None) -> str:
    """Return a value as it reads: 0.1, the mission time, exponential(rate, the mission time)."""
    if expression is None:
        return "none"
    if isinstance(expression, Number):
        return say_number(expression.value)
    if isinstance(expression, ParameterReference):
        return f"parameter {expression.name}"
    if isinstance(expression, MissionTime):
        return "the mission time"
    return f"{expression.function}({', '.join(map(say_expression, expression.arguments))})"


def say_formula(formula: Formula) -> str:
    """Return a formula as it reads: AND of A, not B, (OR of C, D)."""
    if isinstance(formula, Reference):
        return formula.name
    if isinstance(formula, Truth):
        return "true" if formula.value else "false"
    if formula.connective is Connective.NOT and _is_input(formula):
        return f"not {say_formula(formula.arguments[0])}"
    inner = (f"({say})" if " of " in (say := say_formula(part)) else say for part in formula.arguments)
    return f"{say_connective(formula)} of {', '.join(inner) or 'nothing yet'}"


def say_connective(formula: Combination) -> str:
    """Return the connective of a formula, with its counts."""
    if formula.connective is Connective.ATLEAST:
        return f"at least {formula.low} of {len(formula.arguments)}"
    if formula.connective is Connective.CARDINALITY:
        return f"from {formula.low} to {formula.high} of {len(formula.arguments)}"
    return NAMES.get(formula.connective, formula.connective.value.upper())


def compare_gates(before: Gate, after: Gate) -> Iterator[str]:
    """Yield one sentence for each difference."""
    opener = f"Gate {after.name}"
    yield from _compare_formulas(opener, before.formula, after.formula)
    yield from _compare_placings(opener, before.placing, after.placing)


def compare_events(before: BasicEvent, after: BasicEvent) -> Iterator[str]:
    """Yield one sentence for each difference."""
    opener = f"Basic event {after.name}"
    if before.expression != after.expression:
        yield f"{opener}: probability from {say_expression(before.expression)} to {say_expression(after.expression)}."
    yield from _compare_placings(opener, before.placing, after.placing)


def compare_houses(before: HouseEvent, after: HouseEvent) -> Iterator[str]:
    """Yield one sentence for each difference."""
    opener = f"House event {after.name}"
    if before.value != after.value:
        yield f"{opener}: switched {'on' if after.value else 'off'}."
    yield from _compare_placings(opener, before.placing, after.placing)


def compare_parameters(before: Parameter, after: Parameter) -> Iterator[str]:
    """Yield one sentence for each difference."""
    opener = f"Parameter {after.name}"
    if before.expression != after.expression:
        yield f"{opener}: from {say_expression(before.expression)} to {say_expression(after.expression)}."
    if before.unit != after.unit:
        yield f"{opener}: unit from {before.unit or 'none'} to {after.unit or 'none'}."
    yield from _compare_placings(opener, before.placing, after.placing)


def compare_groups(before: CommonCauseGroup, after: CommonCauseGroup) -> Iterator[str]:
    """Yield one sentence for each difference."""
    opener = f"Common-cause group {after.name}"
    if before.model != after.model:
        yield f"{opener}: from {before.model} to {after.model}."
    yield from (f"{opener}: {name} is no member any more." for name in before.members if name not in after.members)
    yield from (f"{opener}: {name} is a new member." for name in after.members if name not in before.members)
    if Counter(before.members) == Counter(after.members) and before.members != after.members:
        yield f"{opener}: its members are in another order."
    if before.distribution != after.distribution:
        old, new = say_expression(before.distribution), say_expression(after.distribution)
        yield f"{opener}: probability of each member from {old} to {new}."
    if before.factors != after.factors:
        yield f"{opener}: factors from {_say_factors(before)} to {_say_factors(after)}."
    yield from _compare_placings(opener, before.placing, after.placing)


def compare_frames(before: Model, after: Model) -> Iterator[tuple[str, str]]:
    """Yield (name, sentence) for each difference of the model itself and of its fault trees and components."""
    name = after.name or before.name
    if before.name != after.name:
        yield name, f"The model: name from {before.name or 'none'} to {after.name or 'none'}."
    yield from ((name, words) for words in _compare_titles("The model", before.label, after.label))
    yield from ((name, words) for words in _compare_attributes("The model", before.attributes, after.attributes))
    old = {container.path: container for container in before.containers}
    new = {container.path: container for container in after.containers}
    yield from ((path[-1], f"{_call(old[path])} is gone.") for path in old if path not in new)
    for path, container in new.items():
        if path not in old:
            yield path[-1], f"{_call(container)} is new."
            continue
        opener, was = _call(container), old[path]
        yield from ((path[-1], words) for words in _compare_titles(opener, was.label, container.label))
        if was.role != container.role:
            yield path[-1], f"{opener}: from {was.role} to {container.role}."
        changes = _compare_attributes(opener, was.attributes, container.attributes)
        yield from ((path[-1], words) for words in changes)
    if list(old) != list(new) and set(old) == set(new):
        yield name, "The model: its fault trees and components are in another order."


def _call(container: Container) -> str:
    return f"{'Fault tree' if len(container.path) == 1 else 'Component'} {'.'.join(container.path)}"


def _say_factors(group: CommonCauseGroup) -> str:
    return ", ".join(f"{say_expression(factor)} at level {level}" for level, factor in group.factors) or "none"


def _compare_formulas(opener: str, before: Formula, after: Formula) -> Iterator[str]:
    if before == after:
        return
    if not _is_plain(before) or not _is_plain(after):
        yield f"{opener}: from {say_formula(before)} to {say_formula(after)}."
        return
    assert isinstance(before, Combination)
    assert isinstance(after, Combination)
    if (before.connective, before.low, before.high) != (after.connective, after.low, after.high):
        yield f"{opener}: from {say_connective(before)} to {say_connective(after)}."
    old, new = Counter(map(say_formula, before.arguments)), Counter(map(say_formula, after.arguments))
    gone, fresh = old - new, new - old
    for said in list(gone):
        turned = said.removeprefix("not ") if said.startswith("not ") else f"not {said}"
        if gone[said] and fresh[turned]:
            both = min(gone[said], fresh[turned])
            gone[said] -= both
            fresh[turned] -= both
            name, now = said.removeprefix("not "), "no longer negated" if said.startswith("not ") else "negated now"
            yield f"{opener}: input {name} is {now}."
    for said in gone.elements():
        yield f"{opener}: input {said} is used one time less." if new[said] else f"{opener}: input {said} is gone."
    for said in fresh.elements():
        yield f"{opener}: input {said} is used one time more." if old[said] else f"{opener}: input {said} is new."
    if old == new and before.arguments != after.arguments:
        yield f"{opener}: its inputs are in another order."


def _is_plain(formula: Formula) -> bool:
    """Tell whether a formula is one connective over names, plain or negated."""
    return isinstance(formula, Combination) and all(map(_is_input, formula.arguments))


def _is_input(part: Formula) -> bool:
    if not isinstance(part, Combination):
        return isinstance(part, Reference)
    inner = part.arguments
    return part.connective is Connective.NOT and len(inner) == 1 and isinstance(inner[0], Reference)


def _compare_placings(opener: str, before: Placing, after: Placing) -> Iterator[str]:
    yield from _compare_titles(opener, before.label, after.label)
    if before.path != after.path:
        yield f"{opener}: moved from {_say_path(before)} to {_say_path(after)}."
    if before.role != after.role:
        yield f"{opener}: from {before.role} to {after.role}."
    told = set()
    for mark, said in ((LIBRARY, "{} of the library"), (TRANSFER, "a transfer to {}")):
        old, new = read_mark(before, mark), read_mark(after, mark)
        if old != new:
            yield f"{opener}: it is {said.format(new)} now." if new else f"{opener}: no longer {said.format(old)}."
            told.add(mark)
    rest = [tuple(each for each in placing.attributes if each[0] not in told) for placing in (before, after)]
    yield from _compare_attributes(opener, *rest)


def _compare_titles(opener: str, before: str, after: str) -> Iterator[str]:
    if before == after:
        return
    if not before:
        yield f"{opener}: title “{after}” is new."
    elif not after:
        yield f"{opener}: title “{before}” is gone."
    else:
        yield f"{opener}: title from “{before}” to “{after}”."


def _compare_attributes(
    opener: str, before: tuple[tuple[str, str, str], ...], after: tuple[tuple[str, str, str], ...]
) -> Iterator[str]:
    if before != after and Counter(before) == Counter(after):
        yield f"{opener}: its attributes are in another order."
    gone, fresh = Counter(before) - Counter(after), Counter(after) - Counter(before)
    yield from (f"{opener}: attribute {_say_attribute(each)} is gone." for each in gone.elements())
    yield from (f"{opener}: attribute {_say_attribute(each)} is new." for each in fresh.elements())


def _say_attribute(attribute: tuple[str, str, str]) -> str:
    name, value, unit = attribute
    return f"{name} “{value}”" + (f" ({unit})" if unit else "")


def _say_path(placing: Placing) -> str:
    return ".".join(placing.path) or "the model data"
