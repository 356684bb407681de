"""A model as it is edited: every gate has one connective over named inputs, each plain or negated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from faulttree.engine.editing.names import propose_name
from faulttree.engine.model import Combination, Connective, Formula, Gate, HouseEvent, Model, Placing, Reference, Truth


@dataclass(frozen=True, slots=True)
class Input:
    """A gate or event that a gate uses; `negated` stands for its not occurring."""

    name: str
    negated: bool = False


def inputs_of(gate: Gate) -> tuple[Input, ...]:
    """Return the inputs of a gate of a flat model, in the author's order."""
    formula = gate.formula
    assert isinstance(formula, Combination)
    return tuple(_read_input(argument) for argument in formula.arguments)


def with_inputs(gate: Gate, inputs: tuple[Input, ...]) -> Gate:
    """Return the gate with other inputs."""
    formula = gate.formula
    assert isinstance(formula, Combination)
    return replace(gate, formula=replace(formula, arguments=tuple(_write_input(item) for item in inputs)))


def users_of(model: Model, name: str) -> tuple[str, ...]:
    """Return the gates that use an element, in the order of the model."""
    return tuple(gate.name for gate in model.gates.values() if any(item.name == name for item in inputs_of(gate)))


def walk_below(model: Model, root: str) -> Iterator[str]:
    """Yield the names of everything at and below an element, each once, from the top down."""
    seen, stack = {root}, [root]
    while stack:
        name = stack.pop()
        yield name
        if name in model.gates:
            for item in reversed(inputs_of(model.gates[name])):
                if item.name not in seen:
                    seen.add(item.name)
                    stack.append(item.name)


def is_flat(model: Model) -> bool:
    """Tell whether every gate is one connective over references, plain or negated."""
    return all(
        isinstance(gate.formula, Combination) and all(_is_input(argument) for argument in gate.formula.arguments)
        for gate in model.gates.values()
    )


def flatten(model: Model) -> Model:
    """Return the model with a gate of its own for every inner formula, and a house event for every constant.

    The truth of every gate stays the same. A gate that only passes something on becomes an OR of one input.
    """
    if is_flat(model):
        return model
    return _Flattener(model).flatten()


class _Flattener:
    def __init__(self, model: Model) -> None:
        self._model = model
        self._gates: dict[str, Gate] = {}
        self._houses = dict(model.house_events)
        self._taken = {*model.gates, *model.basic_events, *model.house_events}

    def flatten(self) -> Model:
        for gate in self._model.gates.values():
            self._add(gate)
        return replace(self._model, gates=self._gates, house_events=self._houses)

    def _add(self, gate: Gate) -> None:
        waiting = [gate]
        while waiting:
            here = waiting.pop(0)
            formula = here.formula
            if not isinstance(formula, Combination):
                formula = Combination(Connective.OR, (formula,))
            arguments = tuple(self._name(argument, gate, waiting) for argument in formula.arguments)
            self._gates[here.name] = replace(here, formula=replace(formula, arguments=arguments))

    def _name(self, argument: Formula, gate: Gate, waiting: list[Gate]) -> Formula:
        bare, negated = _strip_not(argument)
        if isinstance(bare, Truth):
            bare = Reference(self._constant(bare.value, gate.placing))
        elif isinstance(bare, Combination):
            own = gate.name.rsplit(".", 1)[-1]
            name = propose_name(f"{own}-{len(waiting) + 1}", self._taken)
            self._taken.add(name)
            waiting.append(Gate(name, bare, Placing(gate.placing.path)))
            bare = Reference(name)
        return Combination(Connective.NOT, (bare,)) if negated else bare

    def _constant(self, value: bool, placing: Placing) -> str:
        wanted = "always" if value else "never"
        if wanted in self._houses and self._houses[wanted].value == value:
            return wanted
        name = propose_name(wanted, self._taken)
        self._taken.add(name)
        self._houses[name] = HouseEvent(name, value, Placing(placing.path))
        return name


def _strip_not(formula: Formula) -> tuple[Formula, bool]:
    negated = False
    while isinstance(formula, Combination) and formula.connective is Connective.NOT and len(formula.arguments) == 1:
        formula, negated = formula.arguments[0], not negated
    return formula, negated


def _is_input(argument: Formula) -> bool:
    if isinstance(argument, Reference):
        return True
    return (
        isinstance(argument, Combination)
        and argument.connective is Connective.NOT
        and len(argument.arguments) == 1
        and isinstance(argument.arguments[0], Reference)
    )


def _read_input(argument: Formula) -> Input:
    if isinstance(argument, Combination):
        inner = argument.arguments[0]
        assert isinstance(inner, Reference)
        return Input(inner.name, True)
    assert isinstance(argument, Reference)
    return Input(argument.name)


def _write_input(item: Input) -> Formula:
    return Combination(Connective.NOT, (Reference(item.name),)) if item.negated else Reference(item.name)
