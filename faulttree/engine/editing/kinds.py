"""Kinds of gates: their formulas, their names, and what a gate or event may become."""

from __future__ import annotations

from dataclasses import replace

from faulttree.engine.editing.done import Done, drop, find_element, put
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.inputs import inputs_of
from faulttree.engine.editing.marks import refuse_transfer
from faulttree.engine.model import BasicEvent, Combination, Connective, Formula, Gate, HouseEvent, Model

WORDS = {
    "and": "AND",
    "or": "OR",
    "atleast": "At least k of n",
    "xor": "Exclusive OR",
    "not": "NOT",
    "nand": "NAND",
    "nor": "NOR",
    "iff": "Equivalence",
    "imply": "Implication",
    "cardinality": "From k to m of n",
}
LEAVES = {"basic": "Basic event", "house": "House event"}


def make_combination(
    kind: str, arguments: tuple[Formula, ...], low: int | None, high: int | None = None
) -> Combination:
    """Return the formula of a gate kind; raises EditRefused for a kind that isn't one or a count that is missing."""
    if kind not in WORDS:
        raise EditRefused(f"There is no gate kind {kind}.", f"Choose one of {', '.join(WORDS)}.", "kind")
    if kind == "atleast":
        if low is None or low < 1:
            raise EditRefused("How many inputs must occur is missing.", "Give a whole number from 1.", "low")
        return Combination(Connective.ATLEAST, arguments, low)
    if kind == "cardinality":
        if low is None or high is None or not 0 <= low <= high:
            raise EditRefused("The two counts can't be used.", "Give whole numbers, the first not above.", "low")
        return Combination(Connective.CARDINALITY, arguments, low, high)
    return Combination(Connective(kind), arguments)


def say_kind(gate: Gate) -> str:
    """Return the kind of a gate in words."""
    formula = gate.formula
    assert isinstance(formula, Combination)
    if formula.connective is Connective.ATLEAST:
        return f"At least {formula.low} of {len(formula.arguments)}"
    if formula.connective is Connective.CARDINALITY:
        return f"From {formula.low} to {formula.high} of {len(formula.arguments)}"
    return WORDS[formula.connective.value]


def retype(model: Model, *, name: str, kind: str, low: int | None = None, high: int | None = None) -> Done:
    """A gate has another connective over the same inputs; an event becomes a gate, a gate without inputs an event."""
    element = find_element(model, name)
    if isinstance(element, Gate):
        refuse_transfer(element, "kind")
    if isinstance(element, Gate) and kind not in LEAVES:
        formula = make_combination(kind, _arguments(element), low, high)
        gate = replace(element, formula=formula)
        return Done(put(model, gate), f"{name}: {say_kind(gate)} instead of {say_kind(element)}.", name)
    if isinstance(element, Gate) and inputs_of(element):
        raise EditRefused(f"{name} has inputs and can't be an event.", "Remove them first.", "kind")
    _refuse_member(model, name)
    new: Gate | BasicEvent | HouseEvent
    if kind == "basic":
        new = BasicEvent(name, None, element.placing)
    elif kind == "house":
        new = HouseEvent(name, False, element.placing)
    else:
        new = Gate(name, make_combination(kind, (), low, high), element.placing)
    said = LEAVES.get(kind) or f"{say_kind(new) if isinstance(new, Gate) else ''} gate"
    return Done(put(drop(model, {name}), new), f"{name} is a {said} now.".replace("a A", "an A"), name)


def _arguments(gate: Gate) -> tuple[Formula, ...]:
    assert isinstance(gate.formula, Combination)
    return gate.formula.arguments


def _refuse_member(model: Model, name: str) -> None:
    for group in model.common_cause_groups.values():
        if name in group.members:
            message = f"{name} is a member of the common-cause group {group.name}."
            raise EditRefused(message, "Take it out of the group first.", "kind")
