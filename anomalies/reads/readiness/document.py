"""What a round ended with, as JSON text that is kept: list, waivers, poll, verdict, signatures."""

from __future__ import annotations

from typing import Any

from anomalies.clock import now
from anomalies.models import PollAnswer, ReadinessReview, SignOff, Waiver
from anomalies.people import name_of
from anomalies.reads.readiness.checklist import Checklist
from anomalies.reads.readiness.item import Item
from config.kit.canonical import as_plain, write_canonical

FORMAT = "siftwood readiness snapshot 1"


def write_document(review: ReadinessReview, found: Checklist, verdict: str, reason: str, signed: SignOff) -> str:
    """Return the document; every item names its record with version and content hash, as the ledger knows them."""
    activity = review.activity
    answers = PollAnswer.objects.said_last_in(review).select_related("position", "answered_by", "settled_by")
    document = {
        "format": FORMAT,
        "activity": {
            "key": activity.pk,
            "title": activity.title,
            "kind": activity.kind,
            "planned_start": activity.planned_start,
            "planned_end": activity.planned_end,
            "version": activity.version,
        },
        "round": review.round,
        "verdict": verdict,
        "reason": reason,
        "taken_at": now(),
        "signed": {"name": signed.signer_name, "role": signed.signer_role, "over": signed.signed_hash},
        "list_hash": found.hash,
        "items": [_write_item(item) for item in found.items],
        "poll": [_write_answer(row) for row in answers.order_by("position_id")],
    }
    return write_canonical(as_plain(document))


def _write_item(item: Item) -> dict[str, Any]:
    record = item.record
    return {
        "key": item.key,
        "title": item.title,
        "standing": item.standing,
        "because": item.because,
        "owed_by": item.owed_by,
        "record": {
            "kind": record.KIND,
            "key": record.pk,
            "name": str(record),
            "version": record.version,
            "content_hash": record.reread().content_hash(),
        },
        "waiver": _write_waiver(item.waiver) if item.waiver else None,
    }


def _write_waiver(waiver: Waiver) -> dict[str, Any]:
    return {
        "key": waiver.pk,
        "reason": waiver.reason,
        "risk": waiver.risk_code,
        "figure": waiver.figure,
        "figure_low": waiver.figure_low,
        "figure_high": waiver.figure_high,
        "figure_method": waiver.figure_method,
        "expires_at": waiver.expires_at,
        "granted_by": name_of(waiver.granted_by),
    }


def _write_answer(row: PollAnswer) -> dict[str, Any]:
    return {
        "position": row.position.name,
        "stand": row.stand,
        "text": row.text,
        "by": name_of(row.answered_by),
        "at": row.answered_at,
        "settled": row.settled_note,
    }
