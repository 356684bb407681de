"""Edits of fields, and lists of what belongs to a record."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, TypeVar

from anomalies.models.base import Membership, Record
from anomalies.services.checks import begin_move, clean_values
from anomalies.services.ledger import Doer, change_record, check_version, create_record
from config.kit.transitions import Machine

M = TypeVar("M", bound=Membership)


def edit_fields(
    record: Record,
    machine: Machine,
    *,
    actor: Doer,
    version: int,
    changes: Mapping[str, Any],
    allowed: Collection[str],
) -> dict[str, Any]:
    """Return the changes, cleaned, that may be made to a locked record last read at `version`.

    What already is so is left out. Raises NotAllowed, WrongState, BadInput, EditConflict.
    """
    begin_move(record, machine, "edit", actor)
    cleaned = clean_values(record, changes, allowed)
    check_version(record, seen=version, changes=cleaned)
    return {name: value for name, value in cleaned.items() if getattr(record, name) != value}


def attach(model: type[M], *, actor: Doer, action: str, **keys: Any) -> M:
    """Return the row that ties the keys together; made, or made active again, if it isn't there.

    The owner must be locked.
    """
    row = model._base_manager.filter(**keys).first()
    if row is None:
        row = model(**keys)
        create_record(row, actor=actor, action=action)
    elif not row.active:
        change_record(row, {"active": True}, actor=actor, action=action)
    return row


def detach(model: type[Membership], *, actor: Doer, action: str, **keys: Any) -> None:
    """The row that ties the keys together, if there is one, isn't active; the owner must be locked."""
    row = model._base_manager.filter(**keys, active=True).first()
    if row is not None:
        change_record(row, {"active": False}, actor=actor, action=action)
