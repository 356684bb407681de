"""What follows every entry of the ledger, in its transaction: each is told the record and the entry."""

from __future__ import annotations

from collections.abc import Callable

from anomalies.models.ledger import LedgerEntry
from anomalies.services.search import follow_with_text
from config.kit.ledger import Recorded

FOLLOWERS: tuple[Callable[[Recorded, LedgerEntry], None], ...] = (follow_with_text,)


def follow_up(record: Recorded, entry: LedgerEntry) -> None:
    """Every follower has done its part."""
    for follow in FOLLOWERS:
        follow(record, entry)
