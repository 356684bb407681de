"""What the bench's panel says of the chosen element, and what its forms hold."""

from __future__ import annotations

from dataclasses import dataclass

from faulttree.drawing import symbols
from faulttree.drawing.graph import FaultGraph, Node
from faulttree.engine.editing.inputs import inputs_of, users_of
from faulttree.engine.editing.kinds import WORDS
from faulttree.engine.editing.marks import LIBRARY, TRANSFER, read_mark
from faulttree.engine.editing.typed import VALUE_MODELS, ValueModel, write_typed
from faulttree.engine.model import Model


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a failure model, filled in."""

    label: str
    unit: str
    empty: str
    value: str


@dataclass(frozen=True, slots=True)
class Filled:
    """A failure model with its fields; those of the models that aren't in use are empty."""

    model: ValueModel
    fields: tuple[Field, ...]
    is_here: bool


@dataclass(frozen=True)
class Chosen:
    """The chosen element."""

    node: Node
    under: str
    is_top: bool
    negated: bool
    users: tuple[str, ...]
    kinds: tuple[tuple[str, str], ...]
    says: str
    filled: tuple[Filled, ...] = ()
    is_other: bool = False
    """Its value is an expression that the form can't hold."""
    library: str = ""
    target: Target | None = None
    group: str = ""
    inputs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Target:
    """Where a transfer leads: primary key of a tree, number of its revision, a gate there."""

    tree: int
    revision: int
    gate: str


def read_chosen(model: Model, graph: FaultGraph, name: str, under: str, mission_time: float | None) -> Chosen:
    """Return what is to be said of an element of a flat model."""
    node = graph[name]
    users = users_of(model, name)
    under = under if under in users else (users[0] if users else "")
    above = model.gates.get(under)
    negated = any(item.name == name and item.negated for item in inputs_of(above)) if above else False
    element = model.gates.get(name) or model.basic_events.get(name) or model.house_events[name]
    event = model.basic_events.get(name)
    typed = write_typed(event.expression) if event else None
    group = next((g.name for g in model.common_cause_groups.values() if name in g.members), "")
    inputs = tuple(child.name for child in node.children)
    return Chosen(
        node=node,
        under=under,
        is_top=not users,
        negated=negated,
        users=users,
        kinds=tuple(WORDS.items()),
        says=_say(node),
        filled=fill_models(typed) if event else (),
        is_other=event is not None and typed is None,
        library=read_mark(element.placing, LIBRARY),
        target=_read_target(read_mark(element.placing, TRANSFER)),
        group=group,
        inputs=inputs,
    )


def fill_models(typed: tuple[str, list[str]] | None) -> tuple[Filled, ...]:
    """Return every failure model with its fields, those of the one in use filled in."""
    key, values = typed or ("number", [""])
    found = []
    for model in VALUE_MODELS:
        here = model.key == key
        texts = values if here else [""] * len(model.arguments)
        fields = tuple(
            Field(argument.label, argument.unit, argument.empty, text)
            for argument, text in zip(model.arguments, texts, strict=True)
        )
        found.append(Filled(model, fields, here))
    return tuple(found)


def _read_target(mark: str) -> Target | None:
    tree, _, rest = mark.partition("/")
    revision, _, gate = rest.partition("/")
    return Target(int(tree), int(revision), gate) if tree.isdecimal() and revision.isdecimal() else None


def _say(node: Node) -> str:
    if node.is_gate:
        return f"{symbols.name_of(node)} gate"
    return {"basic": "Basic event", "house": "House event", "transfer": "Transfer to another tree"}[node.kind]
