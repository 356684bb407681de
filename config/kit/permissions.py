"""Who may do what: named rules, asked in one way. What no rule allows is refused.

An app registers its rules when it starts:

    @rule("tree.edit")
    def may_edit(actor, tree): ...

and its services ask `require(actor, "tree.edit", tree)`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeAlias

from config.kit.errors import NotAllowed


class Actor(Protocol):
    """Whoever acts: a person who is logged in, or the service itself."""

    @property
    def is_active(self) -> bool:
        """False for an account that was closed; it may do nothing."""


class SystemActor:
    """The service acting by itself, in a sweep or a worker; allowed only by rules that say so."""

    is_active = True
    username = "system"

    def __str__(self) -> str:
        return self.username


SYSTEM = SystemActor()

Predicate: TypeAlias = Callable[[Any, Any], bool]

_rules: dict[str, tuple[Predicate, bool]] = {}


def rule(name: str, *, system: bool = False) -> Callable[[Predicate], Predicate]:
    """Register a predicate (actor, record) -> bool under `name`; `system` lets the service itself do it too."""

    def register(predicate: Predicate) -> Predicate:
        if name in _rules and _rules[name][0].__qualname__ != predicate.__qualname__:
            raise ValueError(f"the rule {name!r} is registered twice")
        _rules[name] = (predicate, system)
        return predicate

    return register


def rule_names() -> frozenset[str]:
    """Return the names of all rules."""
    return frozenset(_rules)


def allows(actor: Actor, name: str, record: object = None) -> bool:
    """Tell whether the actor may do `name` to the record; False for a rule nobody registered."""
    if name not in _rules or not actor.is_active:
        return False
    predicate, system = _rules[name]
    if isinstance(actor, SystemActor):
        return system
    return predicate(actor, record)


def require(actor: Actor, name: str, record: object = None) -> None:
    """Raise NotAllowed unless the actor may do `name` to the record."""
    if not allows(actor, name, record):
        raise NotAllowed(f"You aren't allowed to do this ({name}).")
