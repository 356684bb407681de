"""What follows every entry of the ledger, in its transaction: each is told the record and the entry."""

from __future__ import annotations

from collections.abc import Callable

from anomalies.models.base import Record
from anomalies.models.ledger import LedgerEntry
from anomalies.services.search import follow_with_text

FOLLOWERS: tuple[Callable[[Record, LedgerEntry], None], ...] = (follow_with_text,)


def follow_up(record: Record, entry: LedgerEntry) -> None:
    """Every follower has done its part."""
    for follow in FOLLOWERS:
        follow(record, entry)
