"""Writes of inspections: what could be looked at, and how it ended."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from anomalies.models import Bearing, Inspection
from anomalies.services.bearings import add_bearing, check_rates, check_source, clean_weight
from anomalies.services.checks import begin_move, clean_values, need_text
from anomalies.services.editing import edit_fields
from anomalies.services.investigations import lock_investigation, need_event, note_news
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.states import INSPECTION, INVESTIGATION
from config.kit.errors import BadInput

FIELDS = ("title", "sensitivity", "false_alarm", "basis", "cost", "hours", "needs_outing")
NO_NOTE = "Say what was done and what was seen."
NOT_NEGATIVE = "Give a number, 0 or more."
TELLS_NOTHING = "Sensitivity and false-alarm rate are equal: its result would tell nothing. Correct them."
WHY = "Say why."


@transaction.atomic
def plan_inspection(
    *,
    investigation_id: int,
    actor: User,
    event: str,
    title: str,
    sensitivity: float,
    false_alarm: float,
    **details: Any,
) -> Inspection:
    """The inspection is possible, and ranked among the others; `details` may give basis, cost, hours, needs_outing."""
    investigation = lock_investigation(investigation_id)
    begin_move(investigation, INVESTIGATION, "plan_inspection", actor)
    given = {"title": title, "sensitivity": sensitivity, "false_alarm": false_alarm} | details
    values = clean_values(Inspection(), given, FIELDS)
    _check(values)
    name = need_event(investigation, event)
    last = investigation.inspections.aggregate(last=Max("position"))["last"] or 0
    inspection = Inspection(investigation=investigation, position=last + 1, event=name, added_by=actor, **values)
    create_record(inspection, actor=actor, action="inspection.plan")
    return inspection


@transaction.atomic
def edit_inspection(*, inspection_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> Inspection:
    """The possible inspection is put otherwise; raises EditConflict."""
    inspection = _lock(inspection_id)
    changed = edit_fields(inspection, INSPECTION, actor=actor, version=version, changes=changes, allowed=FIELDS)
    _check({name: getattr(inspection, name) for name in FIELDS} | changed)
    if changed:
        change_record(inspection, changed, actor=actor, action="inspection.edit")
    return inspection


@transaction.atomic
def carry_out_inspection(
    *,
    inspection_id: int,
    actor: User,
    version: int,
    found: bool | None,
    note: str,
    evidence_id: int | None = None,
    finding_id: int | None = None,
) -> Bearing:
    """The inspection was carried out; its result enters the tree by its rates."""
    inspection = _lock(inspection_id)
    move = begin_move(inspection, INSPECTION, "carry_out", actor)
    note = need_text("note", note, NO_NOTE)
    weight = clean_weight(Bearing.Says.TEST, None, inspection.sensitivity, inspection.false_alarm, found)
    source = check_source(inspection.investigation, evidence_id, finding_id)
    name = need_event(inspection.investigation, inspection.event)
    check_version(inspection, seen=version, changes={})
    changes = {"state": move.target, "found": found, "result_note": note}
    change_record(inspection, changes, actor=actor, action="inspection.carry_out", reason=note)
    justification = f"{inspection.title}: {note}"
    bearing = add_bearing(
        inspection.investigation,
        actor,
        event=name,
        inspection=inspection,
        justification=justification,
        **weight,
        **source,
    )
    note_news(inspection.investigation, actor, "investigation.weigh")
    return bearing


@transaction.atomic
def drop_inspection(*, inspection_id: int, actor: User, reason: str) -> Inspection:
    """The inspection won't be carried out."""
    inspection = _lock(inspection_id)
    move = begin_move(inspection, INSPECTION, "drop", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "result_note": reason}
    change_record(inspection, changes, actor=actor, action="inspection.drop", reason=reason)
    return inspection


def _lock(inspection_id: int) -> Inspection:
    key = Inspection.objects.values_list("investigation_id", flat=True).get(pk=inspection_id)
    anomaly_first = lock_investigation(key)
    inspection = Inspection.objects.lock(inspection_id)
    inspection.investigation = anomaly_first
    return inspection


def _check(values: Mapping[str, Any]) -> None:
    check_rates(values["sensitivity"], values["false_alarm"])
    if values["sensitivity"] == values["false_alarm"]:
        raise BadInput(TELLS_NOTHING, code="tells_nothing", fields={"sensitivity": [TELLS_NOTHING]})
    wrong = {name: [NOT_NEGATIVE] for name in ("cost", "hours") if not 0 <= (values.get(name) or 0) < math.inf}
    if wrong:
        raise BadInput(NOT_NEGATIVE, code="negative", fields=wrong)
