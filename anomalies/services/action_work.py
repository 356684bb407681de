"""Writes of what was done: each kind of action must show what its kind needs, and evidence if there is any."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import ActionEvidence, CorrectiveAction, Evidence, HardwareItem
from anomalies.services.actions import lock_action
from anomalies.services.checks import begin_move, clean_values, need_past, need_text
from anomalies.services.editing import attach
from anomalies.services.ledger import change_record, check_version
from anomalies.states import ACTION, HardwareState, RevisionState
from config.kit.errors import BadInput

K = CorrectiveAction.Kind
OF_KIND: dict[str, tuple[str, ...]] = {
    K.REPLACEMENT: ("removed_item_id", "installed_item_id", "retest", "retest_note"),
    K.KIT: ("kit_item", "kit_quantity", "kit_stowage", "kit_delivery"),
}
"""What an action of this kind must say of its doing, besides the note."""
LABELS = {
    "removed_item_id": "Name the item that was removed.",
    "installed_item_id": "Name the item that was installed.",
    "retest": "Say how the retest ended.",
    "retest_note": "Say how it was tested again, and with what result.",
    "kit_item": "Say what was added or taken out.",
    "kit_quantity": "Say how many.",
    "kit_stowage": "Say where it is stowed.",
    "kit_delivery": "Say on which delivery it came.",
}
NO_NOTE = "Say what was done."
NOT_OURS = "One of these belongs to another anomaly, or was withdrawn."
NOBODY = "Nobody with this key is known."


@transaction.atomic
def do_action(
    *,
    action_id: int,
    actor: User,
    version: int,
    note: str,
    done_at: datetime | None = None,
    doer_id: int | None = None,
    evidence_ids: Sequence[int] = (),
    **details: Any,
) -> CorrectiveAction:
    """The action was done and awaits verification; `details` gives what OF_KIND asks for.

    A replacement must agree with the hardware records: the removed item is out, the installed one is in its place. A
    procedure change must have a released revision that names this action. Else Missing says what isn't so yet.
    """
    action = lock_action(action_id)
    move = begin_move(action, ACTION, "do", actor)
    note = need_text("done_note", note, NO_NOTE)
    check_version(action, seen=version, changes={})
    values = _clean_details(action, details)
    gaps = _find_gaps(action, values)
    if gaps:
        raise Missing("This doesn't count as done yet.", gaps, code="not_done")
    doer = User.objects.filter(pk=doer_id or actor.pk).first()
    if doer is None:
        raise BadInput(NOBODY, fields={"doer_id": [NOBODY]})
    attach_evidence(action, evidence_ids, ActionEvidence.Use.DONE, actor)
    done = {"doer_id": doer.pk, "done_at": need_past("done_at", done_at or now()), "done_note": note}
    changes = values | done | {"state": move.target, "state_reason": ""}
    change_record(action, changes, actor=actor, action="action.do")
    return action


def attach_evidence(action: CorrectiveAction, evidence_ids: Sequence[int], use: str, actor: User) -> None:
    """The evidence shows the action; raises BadInput unless it is held evidence of the action's anomaly."""
    held = Evidence.objects.held().filter(anomaly=action.anomaly_id, pk__in=evidence_ids).count()
    if held != len(set(evidence_ids)):
        raise BadInput(NOT_OURS, code="not_ours", fields={"evidence_ids": [NOT_OURS]})
    for key in sorted(set(evidence_ids)):
        keys = {"action_id": action.pk, "evidence_id": key, "use": use}
        attach(ActionEvidence, actor=actor, action="action.add_evidence", **keys)


def _clean_details(action: CorrectiveAction, details: Mapping[str, Any]) -> dict[str, Any]:
    needed = OF_KIND.get(action.kind, ())
    given = {name: value for name, value in details.items() if name in needed or value not in (None, "")}
    values = clean_values(action, given, needed)
    faults = {name: [LABELS[name]] for name in needed if values.get(name) in (None, "")}
    if faults:
        raise BadInput("Something is missing; nothing was saved.", fields=faults)
    if values.get("retest") == CorrectiveAction.Retest.FAILED:
        message = "The retest failed, so it isn't done: replace or repair again, then record the retest that passed."
        raise BadInput(message, code="retest_failed", fields={"retest": [message]})
    return values


def _find_gaps(action: CorrectiveAction, values: Mapping[str, Any]) -> list[Gap]:
    if action.kind == K.REPLACEMENT:
        return _find_replacement_gaps(values["removed_item_id"], values["installed_item_id"])
    if action.kind == K.PROCEDURE and not action.procedure_revisions.ever_released().exclude(
        state=RevisionState.WITHDRAWN
    ):
        text = f"No released revision of a procedure names {action.number} as its cause: release one first."
        return [Gap(text, action.KIND, action.pk)]
    return []


def _find_replacement_gaps(removed_id: int, installed_id: int) -> list[Gap]:
    items = HardwareItem.objects.in_bulk([removed_id, installed_id])
    removed, installed = items[removed_id], items[installed_id]
    if removed == installed or removed.type_id != installed.type_id:
        message = "The item installed must be another one of the same type."
        raise BadInput(message, code="not_a_replacement", fields={"installed_item_id": [message]})
    gaps = []
    if removed.installed_in_id is not None:
        text = f"Serial {removed.serial_number} is still installed: record its removal."
        gaps.append(Gap(text, removed.KIND, removed.pk))
    if installed.state != HardwareState.IN_SERVICE:
        text = f"Serial {installed.serial_number} isn't in service: it is {installed.get_state_display().lower()}."
        gaps.append(Gap(text, installed.KIND, installed.pk))
    last = removed.installations.order_by("-removed_at").first()
    if last is not None and installed.installed_in_id != last.parent_id:
        text = f"Serial {installed.serial_number} isn't installed where serial {removed.serial_number} was: record it."
        gaps.append(Gap(text, installed.KIND, installed.pk))
    return gaps
