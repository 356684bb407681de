"""Common-cause groups of exchange XML."""

from __future__ import annotations

from typing import Protocol

from faulttree.engine.exchange.names import NameSpace, Path
from faulttree.engine.exchange.read_values import ValueReader
from faulttree.engine.exchange.source import Element
from faulttree.engine.model import CommonCauseGroup, Expression, Number, Placing

CCF_MODELS = ("beta-factor", "MGL", "alpha-factor", "phi-factor")

_PARTS = ("label", "attributes", "members", "distribution", "factors", "factor")


class Reader(Protocol):
    """What reading a group needs of the reader of the file."""

    events: NameSpace

    def refuse(self, element: Element, message: str, mend: str) -> None:
        """Note a problem at an element."""

    def only_child(self, element: Element, what: str, *, optional: bool = False) -> Element | None:
        """The one element inside that is no label."""


def read_group(
    reader: Reader, values: ValueReader, element: Element, unique: str, placing: Placing
) -> CommonCauseGroup:
    """Return a group whose definition has been registered; what is wrong goes to the reader."""
    kind = element.get("model")
    if kind not in CCF_MODELS:
        reader.refuse(element, f"The common-cause model {kind!r} is not known.", f"Use {', '.join(CCF_MODELS)}.")
    parts = _parts(reader, element)
    path = placing.path
    members = _members(reader, parts["members"], path) if "members" in parts else ()
    distribution: Expression = Number(0.0)
    if "distribution" in parts:
        body = reader.only_child(parts["distribution"], "expression")
        distribution = distribution if body is None else values.expression(body, path)
    holder = parts.get("factors", element)
    first = {"beta-factor": max(2, len(members)), "MGL": 2}.get(kind, 1)
    factors = []
    for position, factor in enumerate(child for child in holder.children if child.tag == "factor"):
        inner = reader.only_child(factor, "expression")
        if inner is not None:
            level = _level(reader, factor, first + position)
            factors.append((level, values.expression(inner, path)))
    factors.sort(key=lambda factor: factor[0])
    return CommonCauseGroup(unique, kind, members, distribution, tuple(factors), placing)


def _parts(reader: Reader, element: Element) -> dict[str, Element]:
    parts: dict[str, Element] = {}
    for child in element.children:
        if child.tag not in _PARTS:
            reader.refuse(child, f"<{child.tag}> is not a part of a group.", "Remove it or correct its name.")
        elif child.tag in parts and child.tag in ("members", "distribution", "factors"):
            reader.refuse(child, f"There is a second <{child.tag}>.", "Keep one.")
        parts.setdefault(child.tag, child)
    for name in ("members", "distribution"):
        if name not in parts:
            reader.refuse(element, f"<{name}> is missing.", f"Add <{name}> to the group.")
    if "factors" in parts and "factor" in parts:
        reader.refuse(parts["factor"], "A factor stands outside <factors>.", "Move it into <factors>.")
    return parts


def _members(reader: Reader, element: Element, path: Path) -> tuple[str, ...]:
    names = []
    for child in element.children:
        name = child.get("name")
        unique = reader.events.find(name, path)
        if unique is None:
            reader.refuse(child, f"The member {name} is not defined.", reader.events.suggest(name))
        elif reader.events.kind_of(unique) != "basic-event":
            kind = reader.events.kind_of(unique)
            reader.refuse(child, f"The member {name} is a {kind}.", "Members of a group are basic events.")
        else:
            names.append(unique)
    return tuple(names)


def _level(reader: Reader, element: Element, default: int) -> int:
    text = element.get("level", str(default)).strip()
    if not text.isdecimal() or len(text) > 6:
        reader.refuse(element, f"The level {text!r} is not a whole number.", "Write how many members fail together.")
        return default
    return int(text)
