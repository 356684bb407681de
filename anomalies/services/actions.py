"""Writes of corrective actions up to the commitment: proposed, tied to causes, given an owner and a day, or dropped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import ActionCause, ActionEvidence, Activity, Anomaly, Cause, CorrectiveAction
from anomalies.services.checks import ask_first, begin_move, clean_values, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.numbers import take_number
from anomalies.states import ACTION, ANOMALY, ActionState, ActivityState
from config.kit.errors import BadInput
from config.kit.permissions import allows, require

FIELDS = ("kind", "title", "description", "acceptance_criteria", "needed_before_id", "watch_activities")
PROMISE = ("owner_id", "due_on")
NOT_OURS = "One of these causes belongs to another anomaly."
CANT_OWN = "This person can't own an action: they need a role that may propose actions."
NO_OWNER = "Name the person who will see it done."
NO_CAUSE = "It is committed for the causes it addresses: leave at least one, or drop the action with a reason."
NO_DATE = "Say by which day (UTC)."
IN_PAST = "This day is past."
OVER = "This activity is over: choose one that is still to come."
WHY = "Say why."


@transaction.atomic
def propose_action(
    *, anomaly_id: int, actor: User, kind: str, title: str, cause_ids: Sequence[int] = (), **details: Any
) -> CorrectiveAction:
    """The open anomaly has one more action, CA-2031-003; `details` may give the other FIELDS."""
    ask_first(actor, "action.propose", Anomaly.objects.all(), anomaly_id)
    at = now()
    number = take_number(f"CA-{at.astimezone(UTC).year}")  # its lock comes before the record's
    anomaly = Anomaly.objects.lock(anomaly_id)
    require(actor, "action.propose", anomaly)
    begin_move(anomaly, ANOMALY, "investigate", actor)
    values = clean_values(CorrectiveAction(), {"kind": kind, "title": title} | details, FIELDS)
    _check_activity(values)
    action = CorrectiveAction(**values, anomaly=anomaly, proposed_by=actor, proposed_at=at)
    action.number = f"CA-{at.astimezone(UTC).year}-{number:03}"
    create_record(action, actor=actor, action="action.propose")
    _set_causes(action, cause_ids, actor)
    return action


@transaction.atomic
def edit_action(*, action_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> CorrectiveAction:
    """The action is put otherwise; raises EditConflict. Criteria of a committed one change by `recommit_action`."""
    action = lock_action(action_id)
    committed = action.state == ActionState.COMMITTED
    allowed = tuple(name for name in FIELDS if not (committed and name == "acceptance_criteria"))
    changed = edit_fields(action, ACTION, actor=actor, version=version, changes=changes, allowed=allowed)
    _check_activity(changed)
    if changed:
        change_record(action, changed, actor=actor, action="action.edit")
    return action


@transaction.atomic
def address_causes(*, action_id: int, actor: User, version: int, cause_ids: Sequence[int]) -> CorrectiveAction:
    """The action addresses these causes and no others; at least one once it is committed. Raises EditConflict."""
    action = lock_action(action_id)
    begin_move(action, ACTION, "edit", actor)
    check_version(action, seen=version, changes={})
    if not cause_ids and action.state == ActionState.COMMITTED:
        raise BadInput(NO_CAUSE, code="no_cause", fields={"cause_ids": [NO_CAUSE]})
    if _set_causes(action, cause_ids, actor):
        change_record(action, {}, actor=actor, action="action.address")  # a version of its own, to be noticed
    return action


@transaction.atomic
def commit_action(
    *,
    action_id: int,
    actor: User,
    version: int,
    owner_id: int | None,
    due_on: date | None,
    acceptance_criteria: str = "",
) -> CorrectiveAction:
    """Somebody owns the action, by a day, against criteria. Refused while it addresses no cause."""
    return _promise(action_id, "commit", actor, version, owner_id, due_on, acceptance_criteria, None)


@transaction.atomic
def recommit_action(
    *,
    action_id: int,
    actor: User,
    version: int,
    owner_id: int | None,
    due_on: date | None,
    reason: str,
    acceptance_criteria: str = "",
) -> CorrectiveAction:
    """Owner, day or criteria of the committed action are others, for a reason."""
    return _promise(action_id, "recommit", actor, version, owner_id, due_on, acceptance_criteria, reason)


@transaction.atomic
def drop_action(*, action_id: int, actor: User, reason: str) -> CorrectiveAction:
    """The action won't be done."""
    action = lock_action(action_id)
    move = begin_move(action, ACTION, "drop", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(action, changes, actor=actor, action="action.drop", reason=reason)
    return action


@transaction.atomic
def reopen_action(*, action_id: int, actor: User, reason: str) -> CorrectiveAction:
    """The action is to be done again, or to be judged again; what was done and verified stays on record."""
    action = lock_action(action_id)
    move = begin_move(action, ACTION, "reopen", actor)
    reason = need_text("reason", reason, WHY)
    return undo_action(action, move.target, actor=actor, action_name="action.reopen", reason=reason)


def undo_action(action: CorrectiveAction, state: str, *, actor: Any, action_name: str, reason: str) -> CorrectiveAction:
    """The locked action is as if it weren't done: nobody's doing or verification of it counts any more."""
    for row in action.shown_by.filter(active=True, use=ActionEvidence.Use.VERIFIED):
        change_record(row, {"active": False}, actor=actor, action="action.remove_evidence")
    empty = {"doer_id": None, "done_at": None, "verifier_id": None, "verified_at": None}
    changes = {"state": state, "state_reason": reason, "verification_note": "", "effectiveness_note": ""} | empty
    change_record(action, changes, actor=actor, action=action_name, reason=reason)
    return action


def lock_action(action_id: int) -> CorrectiveAction:
    """Lock the action and then its anomaly, which mustn't be closed meanwhile."""
    action = CorrectiveAction.objects.lock(action_id)
    action.anomaly = Anomaly.objects.lock(action.anomaly_id)
    return action


def _promise(
    action_id: int,
    name: str,
    actor: User,
    version: int,
    owner_id: int | None,
    due_on: date | None,
    criteria: str,
    reason: str | None,
) -> CorrectiveAction:
    action = lock_action(action_id)
    move = begin_move(action, ACTION, name, actor)
    reason = "" if reason is None else need_text("reason", reason, WHY)
    check_version(action, seen=version, changes={})
    criteria = need_text(
        "acceptance_criteria", criteria or action.acceptance_criteria, "Say how one will see that it was done well."
    )
    values = {"owner_id": _check_owner(action, owner_id), "due_on": _check_day(due_on), "acceptance_criteria": criteria}
    if not action.addresses.filter(active=True).exists():
        gap = Gap(f"{action.number} addresses no cause yet: name one.", action.KIND, action.pk)
        raise Missing("This action can't be committed yet.", [gap], code="no_cause")
    changes = values | {"state": move.target, "state_reason": ""}
    changes = {key: value for key, value in changes.items() if getattr(action, key) != value}
    if changes:
        change_record(action, changes, actor=actor, action=f"action.{name}", reason=reason)
    return action


def _check_owner(action: CorrectiveAction, owner_id: int | None) -> int:
    if owner_id is None:
        raise BadInput(NO_OWNER, fields={"owner_id": [NO_OWNER]})
    owner = User.objects.filter(pk=owner_id).first()
    if owner is None or not allows(owner, "action.own", action):
        raise BadInput(CANT_OWN, code="cannot_own", fields={"owner_id": [CANT_OWN]})
    return owner.pk


def _check_day(due_on: date | None) -> date:
    if due_on is None:
        raise BadInput(NO_DATE, fields={"due_on": [NO_DATE]})
    if due_on < now().astimezone(UTC).date():
        raise BadInput(IN_PAST, code="in_past", fields={"due_on": [IN_PAST]})
    return due_on


def _check_activity(values: Mapping[str, Any]) -> None:
    key = values.get("needed_before_id")
    if key is not None and Activity.objects.get(pk=key).state not in (ActivityState.PLANNED, ActivityState.UNDER_WAY):
        raise BadInput(OVER, code="activity_over", fields={"needed_before_id": [OVER]})


def _set_causes(action: CorrectiveAction, cause_ids: Sequence[int], actor: User) -> bool:
    """Let the action address these causes and no others; tells whether any changed."""
    if Cause.objects.filter(anomaly=action.anomaly_id, pk__in=cause_ids).count() != len(set(cause_ids)):
        raise BadInput(NOT_OURS, code="not_ours", fields={"cause_ids": [NOT_OURS]})
    before = set(action.addresses.filter(active=True).values_list("cause_id", flat=True))
    for key in sorted(before - set(cause_ids)):
        detach(ActionCause, actor=actor, action="action.remove_cause", action_id=action.pk, cause_id=key)
    for key in sorted(set(cause_ids) - before):
        attach(ActionCause, actor=actor, action="action.add_cause", action_id=action.pk, cause_id=key)
    return before != set(cause_ids)
