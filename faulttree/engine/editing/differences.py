"""What is new in one state of a model against another, for people to read, from the top of the tree down."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any, TypeVar

from faulttree.engine.editing import difference_words as words
from faulttree.engine.editing.renames import find_renames, rename
from faulttree.engine.model import BasicEvent, CommonCauseGroup, Gate, HouseEvent, Model, Parameter, references
from faulttree.engine.validate import find_tops

E = TypeVar("E", Gate, BasicEvent, HouseEvent, Parameter, CommonCauseGroup)
FIELDS = ("kind", "name", "what", "words")


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is different.

    kind : "gate", "basic event", "house event", "parameter", "common-cause group" or "model"
    name : of the element as it is called afterwards, or as it was called if it is gone
    what : "added", "removed", "changed" or "renamed"
    words : a whole sentence
    """

    kind: str
    name: str
    what: str
    words: str

    def to_plain(self) -> dict[str, str]:
        """Return what JSON can hold."""
        return asdict(self)

    @classmethod
    def from_plain(cls, data: Mapping[str, Any]) -> Difference:
        """Return what `to_plain` wrote; raises KeyError for a part that is missing."""
        return cls(*(str(data[name]) for name in FIELDS))


def find_differences(before: Model, after: Model) -> tuple[Difference, ...]:
    """Return what is different: gates in the order of the tree, events, parameters, groups, the model itself.

    Equal models give nothing. The order of elements in a source is no difference, that of a gate's inputs is.
    """
    if before == after:
        return ()
    renames = find_renames(before, after)
    old = rename(before, renames)
    order = _rank_from_top(after, old)
    names = {new: was for was, new in renames.elements.items()}
    shared = {new: was for was, new in renames.parameters.items()}
    found = [
        *_compare("gate", old.gates, after.gates, order, names, words.compare_gates),
        *_compare("basic event", old.basic_events, after.basic_events, order, names, words.compare_events),
        *_compare("house event", old.house_events, after.house_events, order, names, words.compare_houses),
        *_compare("parameter", old.parameters, after.parameters, {}, shared, words.compare_parameters),
        *_compare(
            "common-cause group",
            old.common_cause_groups,
            after.common_cause_groups,
            {},
            {new: was for was, new in renames.groups.items()},
            words.compare_groups,
        ),
        *(Difference("model", name, "changed", said) for name, said in words.compare_frames(before, after)),
    ]
    return tuple(found)


def _compare(
    kind: str,
    before: Mapping[str, E],
    after: Mapping[str, E],
    order: Mapping[str, int],
    renamed: Mapping[str, str],
    compare: Callable[[E, E], Iterable[str]],
) -> Iterator[Difference]:
    opener = kind[0].upper() + kind[1:]
    for name in sorted({**after, **before}, key=lambda name: order.get(name, len(order))):
        if name in renamed and name in after:
            yield Difference(kind, name, "renamed", f"{opener} {renamed[name]} is called {name} now.")
        if name not in after:
            yield Difference(kind, name, "removed", f"{opener} {name} is gone.")
        elif name not in before:
            yield Difference(kind, name, "added", f"{opener} {name} is new{_say_new(after[name])}.")
        else:
            yield from (Difference(kind, name, "changed", said) for said in compare(before[name], after[name]))


def _say_new(element: Gate | BasicEvent | HouseEvent | Parameter | CommonCauseGroup) -> str:
    """Return what a new element is, to follow "is new"."""
    if isinstance(element, Gate):
        return f": {words.say_formula(element.formula)}"
    if isinstance(element, BasicEvent):
        if element.expression is None:
            return ", without a probability"
        return f", with probability {words.say_expression(element.expression)}"
    if isinstance(element, HouseEvent):
        return f", switched {'on' if element.value else 'off'}"
    if isinstance(element, Parameter):
        unit = f" {element.unit}" if element.unit else ""
        return f": {words.say_expression(element.expression)}{unit}"
    return f": {element.model} over {', '.join(element.members)}"


def _rank_from_top(after: Model, before: Model) -> dict[str, int]:
    """Return the place of every gate and event in depth-first order; what is gone stands where it was used."""
    order: dict[str, int] = {}
    stack = list(reversed([*find_tops(after), *find_tops(before), *after.gates, *before.gates]))
    while stack:
        name = stack.pop()
        if name in order:
            continue
        order[name] = len(order)
        below = [
            used for model in (after, before) if name in model.gates for used in references(model.gates[name].formula)
        ]
        stack.extend(reversed([used for used in below if used not in order]))
    return order
