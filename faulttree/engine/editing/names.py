"""Names for new elements, and whether one may be used."""

from __future__ import annotations

from collections.abc import Collection

from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.exchange.names import NAME, NAME_RULE


def propose_name(wanted: str, taken: Collection[str]) -> str:
    """Return `wanted`, or with a number behind it where it is taken."""
    if wanted not in taken:
        return wanted
    number = 2
    while f"{wanted}-{number}" in taken:
        number += 1
    return f"{wanted}-{number}"


def number_name(letter: str, taken: Collection[str]) -> str:
    """Return the first of letter1, letter2, ... that is free."""
    number = 1
    while f"{letter}{number}" in taken:
        number += 1
    return f"{letter}{number}"


def check_name(name: str, taken: Collection[str], field: str = "name") -> str:
    """Return a name that may be used; raises EditRefused for one that can't be or is taken."""
    name = name.strip()
    if not name:
        raise EditRefused("A name is needed.", "Give one, for instance VALVE-STUCK.", field)
    if not NAME.match(name):
        raise EditRefused(f"“{name}” can't be a name.", NAME_RULE, field)
    if name in taken:
        raise EditRefused(f"The name {name} is taken.", "Choose another, or use the element that has it.", field)
    return name
