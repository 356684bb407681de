"""An agenda as JSON text that a meeting keeps, and back."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from typing import Any

from anomalies.reads.meetings.item import Agenda, Item
from config.kit.canonical import as_plain, write_canonical

FORMAT = "siftwood agenda 1"


def write_agenda(agenda: Agenda) -> str:
    """Return the document; every item names its record with version and content hash, as the ledger knows them."""
    return write_canonical(as_plain(agenda_as_json(agenda)))


def agenda_as_json(agenda: Agenda) -> dict[str, Any]:
    """Return it as JSON can hold it, but for the moment."""
    return {"format": FORMAT, "at": agenda.at, "items": [asdict(item) for item in agenda.items]}


def load_agenda(text: str) -> Agenda | None:
    """Return the agenda that a meeting kept; None if it kept none."""
    if not text:
        return None
    document = json.loads(text)
    items = tuple(Item(**item) for item in document["items"])
    return Agenda(datetime.fromisoformat(document["at"]), items)
