"""Keeps the search text of records: in the transaction that changes them, and anew for all."""

from __future__ import annotations

from anomalies.models.ledger import LedgerEntry
from anomalies.models.search import SearchText
from anomalies.search_texts import OWNERS, WRITERS
from config.kit.ledger import Recorded

CHUNK = 500


def follow_with_text(record: Recorded, entry: LedgerEntry) -> None:
    """The text of the record, or of the one it's a part of, is what it says now."""
    told = OWNERS[record.KIND](record) if record.KIND in OWNERS else record
    row = write_text(told)
    if row is not None:
        values = {name: getattr(row, name) for name in ("codes", "title", "body", "anomaly_id", "owner_id")}
        SearchText.objects.update_or_create(kind=row.kind, record_id=row.record_id, defaults=values)


def write_text(record: Recorded) -> SearchText | None:
    """Return the row of a record, unsaved; None for a kind that isn't searched."""
    writer = WRITERS.get(type(record))
    if writer is None:
        return None
    text = writer(record)
    return SearchText(
        kind=record.KIND,
        record_id=record.pk,
        anomaly_id=text.anomaly_id,
        owner_id=text.owner_id,
        codes=text.codes,
        title=text.title,
        body=text.body,
    )


def rebuild_search() -> dict[str, int]:
    """All texts are made anew; returns how many of each kind. In one transaction of the caller's, or none."""
    SearchText.objects.all().delete()
    counts: dict[str, int] = {}
    for model in WRITERS:
        rows = (write_text(record) for record in model._base_manager.order_by("pk").iterator(CHUNK))
        made = SearchText.objects.bulk_create((row for row in rows if row is not None), batch_size=CHUNK)
        counts[model.KIND] = len(made)
    return counts
