"""Rows that were written before the ledger knew their kind come into it as they are, and the entries say so."""

from __future__ import annotations

from django.db import transaction

from anomalies.models.ledger import LedgerEntry
from config.kit.ledger import kept_models, note_write
from config.kit.permissions import SYSTEM

WHY = "Written before the ledger knew this kind, or not by its service: recorded as it was found."


def adopt_rows(*, dry_run: bool = False) -> list[str]:
    """Every row of the kinds of other apps is in the ledger; returns what each new one is.

    Somebody with access to the server does this, so no permission is asked. A row that was made behind the services
    is adopted too: the entry holds when, and anybody can see that it has no author's entry before it.
    """
    found = []
    for model in kept_models():
        with transaction.atomic():
            known = set(LedgerEntry.objects.filter(kind=model.KIND).values_list("record_id", flat=True))
            keys = model._base_manager.order_by("pk").values_list("pk", flat=True)
            for row in (model._base_manager.get(pk=key) for key in keys if key not in known):
                found.append(f"{model.KIND} {row.pk}: {row}")
                if not dry_run:
                    note_write(row, actor=SYSTEM, action=f"{model.KIND}.adopt", reason=WHY)
    return found
