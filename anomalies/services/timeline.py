"""Writes of an anomaly's timeline."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.models import Anomaly, Evidence, TimelineEntry
from anomalies.services.checks import begin_move, clean_values, need_past, need_text
from anomalies.services.editing import edit_fields
from anomalies.services.ledger import change_record, create_record
from anomalies.states import ANOMALY, TIMELINE_ENTRY
from config.kit.errors import BadInput

FIELDS = ("at", "text", "evidence_id")
NOT_HERE = "This evidence belongs to another anomaly, or was withdrawn."
WHY = "Say why."


@transaction.atomic
def add_timeline_entry(
    *, anomaly_id: int, actor: User, at: datetime, text: str, evidence_id: int | None = None
) -> TimelineEntry:
    """The timeline says what happened at that moment, on which evidence if on any."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "gather", actor)
    values = clean_values(TimelineEntry(), {"at": at, "text": text, "evidence_id": evidence_id}, FIELDS)
    entry = TimelineEntry(**values, anomaly=anomaly, added_by=actor)
    _check(entry, values)
    create_record(entry, actor=actor, action="timeline_entry.add")
    return entry


@transaction.atomic
def edit_timeline_entry(*, entry_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> TimelineEntry:
    """The entry is corrected; raises EditConflict."""
    entry = _lock(entry_id)
    changed = edit_fields(entry, TIMELINE_ENTRY, actor=actor, version=version, changes=changes, allowed=FIELDS)
    _check(entry, changed)
    if changed:
        change_record(entry, changed, actor=actor, action="timeline_entry.edit")
    return entry


@transaction.atomic
def withdraw_timeline_entry(*, entry_id: int, actor: User, reason: str) -> TimelineEntry:
    """The entry doesn't count any more, and stays on record."""
    entry = _lock(entry_id)
    move = begin_move(entry, TIMELINE_ENTRY, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(entry, changes, actor=actor, action="timeline_entry.withdraw", reason=reason)
    return entry


def _lock(entry_id: int) -> TimelineEntry:
    anomaly = Anomaly.objects.lock(TimelineEntry.objects.values_list("anomaly_id", flat=True).get(pk=entry_id))
    entry = TimelineEntry.objects.lock(entry_id)
    entry.anomaly = anomaly
    return entry


def _check(entry: TimelineEntry, values: Mapping[str, Any]) -> None:
    if "at" in values:
        need_past("at", values["at"])
    if values.get("evidence_id") is not None:
        here = Evidence.objects.held().filter(anomaly=entry.anomaly_id, pk=values["evidence_id"])
        if not here.exists():
            raise BadInput(NOT_HERE, code="unknown_evidence", fields={"evidence_id": [NOT_HERE]})
