"""What a model that is being edited still lacks, in plain words, each with the element it is about."""

from __future__ import annotations

from dataclasses import dataclass

from faulttree.engine.editing.inputs import inputs_of
from faulttree.engine.editing.kinds import say_kind
from faulttree.engine.editing.marks import LIBRARY, is_transfer, read_mark
from faulttree.engine.errors import BadModel
from faulttree.engine.model import Combination, Connective, Model
from faulttree.engine.validate import check_model

MOST = 20


@dataclass(frozen=True, slots=True)
class Lack:
    """Something to be done before the tree can be computed or saved; `name` is a gate or event, or empty."""

    name: str
    message: str
    mend: str


def find_lacks(model: Model) -> tuple[Lack, ...]:
    """Return what is missing or wrong, at most MOST of them; empty for a model that can be computed.

    What is simply not done yet comes first. Only where nothing of that is left are faults looked for.
    """
    found = [*_unfinished_gates(model), *_unfinished_events(model), *_tops(model)]
    return tuple(found[:MOST]) if found else find_faults(model)


def find_faults(model: Model) -> tuple[Lack, ...]:
    """Return what is wrong with a model, beside gates that have no inputs yet; at most MOST."""
    try:
        check_model(model)
    except BadModel as refused:
        found = [Lack(_name_in(problem.element), problem.message, problem.mend) for problem in refused.problems]
        return tuple(fault for fault in found if "has 0 arguments" not in fault.message)[:MOST]
    return ()


def _unfinished_gates(model: Model) -> list[Lack]:
    found = []
    for gate in model.gates.values():
        formula, count = gate.formula, len(inputs_of(gate))
        assert isinstance(formula, Combination)
        if is_transfer(gate):
            continue
        if not count:
            found.append(Lack(gate.name, f"{gate.name} has no input yet.", "Add an event or a gate under it."))
        elif formula.connective is Connective.NOT and count != 1:
            found.append(Lack(gate.name, f"{gate.name} is a NOT gate with {count} inputs.", "Leave one of them."))
        elif formula.connective is Connective.ATLEAST and (formula.low or 0) > count:
            message = f"{gate.name} needs {formula.low} of {count} inputs to occur."
            found.append(Lack(gate.name, message, "Add inputs or lower the number."))
        elif formula.connective in (Connective.IMPLY, Connective.IFF) and count < 2:
            found.append(Lack(gate.name, f"{gate.name} ({say_kind(gate)}) has one input.", "Give it two."))
    return found


def _unfinished_events(model: Model) -> list[Lack]:
    members = {name for group in model.common_cause_groups.values() for name in group.members}
    return [
        Lack(event.name, f"{event.name} has no probability yet.", "Give it one.")
        for event in model.basic_events.values()
        if event.expression is None and event.name not in members and not read_mark(event.placing, LIBRARY)
    ]


def _tops(model: Model) -> list[Lack]:
    used = {item.name for gate in model.gates.values() for item in inputs_of(gate)}
    loose = [name for name in (*model.basic_events, *model.house_events) if name not in used]
    found = [Lack(name, f"{name} is used by no gate.", "Use it under one, or remove it.") for name in loose]
    if used >= model.gates.keys():
        found.append(Lack("", "There is no top event.", "Add a gate."))
    return found


def _name_in(element: str) -> str:
    """Return the name in the words that a problem uses for its element, like “basic event PUMP”."""
    return element.rsplit(" ", 1)[-1] if element.startswith(("gate ", "basic event ", "house event ")) else ""
