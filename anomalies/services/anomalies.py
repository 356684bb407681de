"""Writes of anomalies by those who see them: drafts, reports, edits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Anomaly, AnomalyHardware, HardwareItem
from anomalies.services.checks import ask_first, begin_move, clean_text, clean_values, need_past
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, create_record
from anomalies.services.numbers import take_number
from anomalies.states import ANOMALY, AnomalyState
from config.kit.errors import BadInput
from config.kit.permissions import require

STORY_FIELDS = (
    "title",
    "description",
    "occurred_at",
    "place",
    "activity_id",
    "activity_cut_short",
    "immediate_response",
)
NO_SUCH_HARDWARE = "One of these hardware items isn't known."


@transaction.atomic
def draft_anomaly(
    *, actor: User, title: str, occurred_at: datetime, hardware_ids: Sequence[int] = (), **story: Any
) -> Anomaly:
    """A draft that only its recorder sees; it has no number yet. `story` may give any of STORY_FIELDS."""
    return _create(actor, {"title": title, "occurred_at": occurred_at, **story}, hardware_ids, report=False)


@transaction.atomic
def report_anomaly(
    *, actor: User, title: str, occurred_at: datetime, hardware_ids: Sequence[int] = (), **story: Any
) -> Anomaly:
    """The anomaly has its number and awaits screening. `story` may give any of STORY_FIELDS."""
    return _create(actor, {"title": title, "occurred_at": occurred_at, **story}, hardware_ids, report=True)


@transaction.atomic
def submit_anomaly(*, anomaly_id: int, actor: User) -> Anomaly:
    """The draft has its number and awaits screening."""
    ask_first(actor, "anomaly.submit", Anomaly.objects.all(), anomaly_id)
    occurred_at = Anomaly.objects.values_list("occurred_at", flat=True).get(pk=anomaly_id)
    return _submit(anomaly_id, _take_number(occurred_at), actor)


@transaction.atomic
def save_draft(
    *,
    anomaly_id: int,
    actor: User,
    version: int,
    changes: Mapping[str, Any],
    hardware_ids: Sequence[int],
    report: bool = False,
) -> Anomaly:
    """The draft reads as given and concerns just these items; if it's reported, it has its number as well.

    Raises EditConflict if the draft changed since `version`.
    """
    ask_first(actor, "anomaly.submit", Anomaly.objects.all(), anomaly_id)
    occurred_at = changes.get("occurred_at") or Anomaly.objects.values_list("occurred_at", flat=True).get(pk=anomaly_id)
    number = _take_number(need_past("occurred_at", occurred_at)) if report else None
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "submit", actor)  # also to save it: a report isn't a draft any more
    edit_anomaly(anomaly_id=anomaly_id, actor=actor, version=version, changes=changes)
    _check_hardware(hardware_ids)
    listed = set(anomaly.hardware_concerned.filter(active=True).values_list("item_id", flat=True))
    for item_id in sorted(listed.symmetric_difference(hardware_ids)):
        change = remove_anomaly_hardware if item_id in listed else add_anomaly_hardware
        change(anomaly_id=anomaly_id, item_id=item_id, actor=actor)
    return _submit(anomaly_id, number, actor) if number else anomaly.reread()


@transaction.atomic
def discard_anomaly(*, anomaly_id: int, actor: User) -> Anomaly:
    """The draft is given up; its recorder still sees it."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "discard", actor)
    change_record(anomaly, {"state": move.target}, actor=actor, action="anomaly.discard")
    return anomaly


@transaction.atomic
def edit_anomaly(
    *, anomaly_id: int, actor: User, version: int, changes: Mapping[str, Any], reason: str = ""
) -> Anomaly:
    """The story is corrected; raises EditConflict if the anomaly changed since `version`. The number stays."""
    reason = clean_text("reason", reason)
    anomaly = Anomaly.objects.lock(anomaly_id)
    changed = edit_fields(anomaly, ANOMALY, actor=actor, version=version, changes=changes, allowed=STORY_FIELDS)
    if "occurred_at" in changed:
        need_past("occurred_at", changed["occurred_at"])
    if changed:
        change_record(anomaly, changed, actor=actor, action="anomaly.edit", reason=reason)
    return anomaly


@transaction.atomic
def add_anomaly_hardware(*, anomaly_id: int, item_id: int, actor: User) -> AnomalyHardware:
    """The item is among those concerned."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "edit", actor)
    _check_hardware([item_id])
    keys = {"anomaly_id": anomaly.pk, "item_id": item_id}
    return attach(AnomalyHardware, actor=actor, action="anomaly.add_hardware", **keys)


@transaction.atomic
def remove_anomaly_hardware(*, anomaly_id: int, item_id: int, actor: User) -> None:
    """The item isn't among those concerned."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "edit", actor)
    keys = {"anomaly_id": anomaly.pk, "item_id": item_id}
    detach(AnomalyHardware, actor=actor, action="anomaly.remove_hardware", **keys)


def _create(actor: User, given: Mapping[str, Any], hardware_ids: Sequence[int], *, report: bool) -> Anomaly:
    require(actor, "anomaly.report")
    values = clean_values(Anomaly(), given, STORY_FIELDS)
    need_past("occurred_at", values["occurred_at"])
    _check_hardware(hardware_ids)
    anomaly = Anomaly(**values, recorded_by=actor, recorded_at=now())
    if report:
        anomaly.state, anomaly.reported_at = AnomalyState.REPORTED, anomaly.recorded_at
        anomaly.number = _take_number(anomaly.occurred_at)
    create_record(anomaly, actor=actor, action="anomaly.report" if report else "anomaly.draft")
    for item_id in dict.fromkeys(hardware_ids):
        keys = {"anomaly_id": anomaly.pk, "item_id": item_id}
        attach(AnomalyHardware, actor=actor, action="anomaly.add_hardware", **keys)
    return anomaly


def _submit(anomaly_id: int, number: str, actor: User) -> Anomaly:
    """The number was taken before: its lock comes before the record's."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "submit", actor)
    changes = {"state": move.target, "number": number, "reported_at": now()}
    change_record(anomaly, changes, actor=actor, action="anomaly.submit")
    return anomaly


def _take_number(occurred_at: datetime) -> str:
    """Return the next number of the year (UTC) in which the anomaly occurred, like A-2031-014."""
    year = occurred_at.astimezone(UTC).year
    return f"A-{year}-{take_number(f'A-{year}'):03}"


def _check_hardware(item_ids: Sequence[int]) -> None:
    if HardwareItem.objects.filter(pk__in=item_ids).count() != len(set(item_ids)):
        raise BadInput(NO_SUCH_HARDWARE, code="unknown_hardware", fields={"hardware_ids": [NO_SUCH_HARDWARE]})
