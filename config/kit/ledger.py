"""The way into the tamper-evident ledger for records of every app; whoever keeps the ledger registers its writer.

A record that the ledger answers for has a KIND, a version, a content, and the hash of that. Its model is entered by
`@kept`; a service that writes one calls `note_write`, last and in the same transaction, because the ledger is locked
from then on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from django.db import models, transaction

from config.kit.canonical import as_plain, hash_canonical

M = TypeVar("M", bound=type[models.Model])

EMPTY: tuple[Any, ...] = (None, "", False, [], {})
NOTHING = hash_canonical({})
"""Hash of the content of a record that was removed."""


class Recorded(Protocol):
    """What the ledger needs of a record."""

    @property
    def KIND(self) -> str:  # noqa: N802
        """What the ledger calls this kind of record."""

    @property
    def pk(self) -> Any:
        """Its key."""

    @property
    def version(self) -> int:
        """Counts its changes from 1."""

    def content(self) -> dict[str, Any]:
        """Return all that must not change unnoticed, as JSON can hold it; empty values are left out."""

    def content_hash(self) -> str:
        """Return the SHA-256 of the content."""


class Writer(Protocol):
    """Appends an entry on how a record went from `before` to what it is now."""

    def __call__(
        self, record: Recorded, before: Mapping[str, Any], *, actor: Any, action: str, reason: str = ""
    ) -> Any: ...


class NoLedger(RuntimeError):
    """No app keeps a ledger; a write without its entry is worse than none."""


_writers: list[Writer] = []
_kept: list[type[models.Model]] = []


def register_writer(writer: Writer) -> None:
    """Let this one write from now on; there is one ledger."""
    _writers[:] = [writer]


def kept(model: M) -> M:
    """Enter a model among those that the ledger answers for."""
    _kept.append(model)
    return model


def kept_models() -> list[Any]:
    """Return the models that were entered, in the order of their kinds."""
    return sorted(_kept, key=lambda model: str(getattr(model, "KIND", "")))


def note_write(
    record: Recorded, *, actor: Any, action: str, before: Mapping[str, Any] | None = None, reason: str = ""
) -> None:
    """The ledger ends with an entry of how the record went from `before` (nothing: it is new) to what it is now.

    Locks the end of the ledger until the transaction ends: nothing else may be locked after it. Raises
    TransactionManagementError outside a transaction, NoLedger where nobody writes one.
    """
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError("The ledger is written in the transaction of what it records.")
    if not _writers:
        raise NoLedger(f"Nobody writes the ledger, so the {record.KIND} {record.pk} can't be recorded.")
    _writers[0](record, before or {}, actor=actor, action=action, reason=reason)


def note_removal(record: Recorded, *, actor: Any, action: str, reason: str = "") -> None:
    """The ledger says that the record, which is still there, is gone now; its last entry leaves nothing of it."""
    note_write(Removed(record), actor=actor, action=action, before=record.content(), reason=reason)


@dataclass(frozen=True, slots=True)
class Removed:
    """A record that is no more, one version after its last."""

    record: Recorded

    @property
    def KIND(self) -> str:  # noqa: N802
        """As before."""
        return self.record.KIND

    @property
    def pk(self) -> Any:
        """As before."""
        return self.record.pk

    @property
    def version(self) -> int:
        """One more than the last."""
        return self.record.version + 1

    def content(self) -> dict[str, Any]:
        """Return nothing."""
        return {}

    def content_hash(self) -> str:
        """Return the hash of nothing."""
        return NOTHING


def read_columns(row: models.Model, *without: str) -> dict[str, Any]:
    """Return the columns of a row but its key and those named, as a content holds them.

    Empty values are left out, so that a column that is added later changes no content that was recorded before.
    Numbers in JSON become floats: a database may give back 1e16 as a whole number.
    """
    values = {}
    for field in row._meta.concrete_fields:
        if not field.primary_key and field.attname not in without:
            value = as_plain(getattr(row, field.attname))
            values[field.attname] = _even_out(value) if isinstance(field, models.JSONField) else value
    return {name: value for name, value in values.items() if not is_empty(value)}


def is_empty(value: Any) -> bool:
    """Tell whether the value says nothing; 0 does say something."""
    return any(value is empty or (type(value) is type(empty) and value == empty) for empty in EMPTY)


def _even_out(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _even_out(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_even_out(item) for item in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value) + 0.0  # and -0.0 becomes 0.0
    return value
