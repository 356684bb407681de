"""The only way to write a record: with its entry in the ledger, in the caller's transaction.

Locks are always taken in one order, or two transactions would wait for each other: number series, then records in
the alphabetical order of their kinds and then of their keys, then the head of the ledger. So a service locks all it
needs before its first write.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import EditConflict
from anomalies.models.base import Record
from anomalies.models.ledger import LedgerEntry, LedgerHead
from anomalies.services.follow_up import follow_up
from config.kit.canonical import as_plain, write_canonical
from config.kit.ledger import Recorded, is_empty
from config.kit.permissions import SystemActor

Doer: TypeAlias = User | SystemActor


def create_record(record: Record, *, actor: Doer, action: str, reason: str = "") -> LedgerEntry:
    """The new record is saved as version 1, and the ledger says so."""
    record.version = 1
    record.save(force_insert=True)
    return append_entry(record, {}, actor=actor, action=action, reason=reason)


def change_record(
    record: Record, changes: Mapping[str, Any], *, actor: Doer, action: str, reason: str = ""
) -> LedgerEntry:
    """The fields have their new values, the version is one higher, and the ledger says so.

    The record must have been read under a lock in this transaction.
    """
    before = record.content()
    for name, value in changes.items():
        setattr(record, name, value)
    record.version += 1
    record.save(update_fields=[*changes, "version"])
    return append_entry(record, before, actor=actor, action=action, reason=reason)


def append_entry(
    record: Recorded, before: Mapping[str, Any], *, actor: Doer, action: str, reason: str = ""
) -> LedgerEntry:
    """The ledger ends with an entry of how the record's content went from `before` to what it is now.

    Locks the head until the caller's transaction ends; raises TransactionManagementError outside one.
    """
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError("The ledger is written in the transaction of what it records.")
    head = lock_head()
    after = record.content()
    changed = [name for name in {**before, **after} if before.get(name) != after.get(name)]
    entry = LedgerEntry(
        sequence=head.sequence + 1,
        at=now(),
        actor=actor if isinstance(actor, User) else None,
        actor_name=actor.username,
        action=action,
        kind=record.KIND,
        record_id=record.pk,
        version=record.version,
        before=write_canonical({name: before.get(name) for name in changed}),
        after=write_canonical({name: after.get(name) for name in changed}),
        content_hash=record.content_hash(),
        reason=reason,
        previous_hash=head.hash,
    )
    entry.hash = entry.compute_hash()
    entry.save()
    head.sequence, head.hash = entry.sequence, entry.hash
    head.save(update_fields=["sequence", "hash"])
    follow_up(record, entry)
    return entry


def lock_head() -> LedgerHead:
    """Return the newest entry's sequence number and hash, locked; the row is made when the ledger is first used."""
    head, _ = LedgerHead.objects.select_for_update().get_or_create(pk=1)
    return head


def check_version(record: Record, *, seen: int, changes: Mapping[str, Any]) -> None:
    """Raise EditConflict with both versions if the record was changed since version `seen`."""
    if record.version == seen:
        return
    theirs = read_changes_since(record, seen)
    yours = {name: as_plain(value) for name, value in changes.items()}
    yours = {name: None if is_empty(value) else value for name, value in yours.items()}
    raise EditConflict(seen=seen, version=record.version, theirs=theirs, yours=yours)


def read_changes_since(record: Record, version: int) -> dict[str, dict[str, Any]]:
    """Return field -> {"before", "after"} for all that changed after `version`; what changed back is left out."""
    spans: dict[str, dict[str, Any]] = {}
    for entry in LedgerEntry.objects.of(record.KIND, record.pk).filter(version__gt=version):
        for name, (before, after) in entry.changes.items():
            spans.setdefault(name, {"before": before})["after"] = after
    spans.pop("version", None)
    return {name: span for name, span in spans.items() if span["before"] != span["after"]}
