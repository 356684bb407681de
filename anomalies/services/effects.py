"""Writes of what actions do to the tree of the investigation, what they take, and how they stand to each other.

All of it changes what figures of benefit are made of: the investigation gets a new version, so that whoever signs on
figures that are no longer those on the screen is told so.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max, Q

from anomalies.clock import now
from anomalies.models import ActionEffect, ActionTie, CorrectiveAction, Investigation
from anomalies.reads.effects import as_effect
from anomalies.services.actions import lock_action
from anomalies.services.checks import begin_move, clean_text, clean_values, need_text
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.states import ACTION, ACTION_TIE, EFFECT, TieState
from config.kit.errors import BadInput, Refused
from faulttree.facade import NoBenefit, check_effect, list_targets

ESTIMATES = ("cost", "mass_kg", "crew_hours", "lead_days")
NO_TREE = "{number} has no fault tree yet: open its investigation first, then say what the action does."
NO_KIND = "Choose what the action does to the event."
NO_REASON = "Say why: a test, a calculation, experience with the same part."
NO_AMOUNT = "Give the number that says how much."
NEGATIVE = "Give 0 or more."
NOT_BELOW = "The tree of the investigation has no event or gate “{event}” below {top}. Choose one of the list."
OTHER_ANOMALY = "Choose another action of the same anomaly."
TIED = "{one} and {other} are tied already: withdraw that tie first."
WHY = "Say why."


@transaction.atomic
def state_effect(
    *,
    action_id: int,
    actor: User,
    kind: str,
    event: str,
    reason: str,
    amount: float | None = None,
    of: str = "probability",
    new_event: str = "",
) -> ActionEffect:
    """The action does this to an event or gate of the investigation's tree; what `amount` is, the model says.

    Raises Refused without an investigation, BadInput naming the field for what the tree can't take.
    """
    action = lock_action(action_id)
    begin_move(action, ACTION, "state_effect", actor)
    investigation = _lock_investigation(action)
    values = _clean_effect(investigation, action, kind, event, amount, of, new_event)
    values["reason"] = need_text("reason", reason, NO_REASON)
    last = action.effects.aggregate(last=Max("position"))["last"] or 0
    effect = ActionEffect(action=action, position=last + 1, author=actor, stated_at=now(), **values)
    create_record(effect, actor=actor, action="effect.state")
    _note(investigation, actor)
    return effect


@transaction.atomic
def withdraw_effect(*, effect_id: int, actor: User, reason: str) -> ActionEffect:
    """The action isn't said to do this any more."""
    action = lock_action(ActionEffect.objects.values_list("action_id", flat=True).get(pk=effect_id))
    effect = ActionEffect.objects.lock(effect_id)
    effect.action = action
    move = begin_move(effect, EFFECT, "withdraw", actor)
    investigation = _lock_investigation(action)
    reason = need_text("reason", reason, WHY)
    change_record(effect, {"state": move.target}, actor=actor, action="effect.withdraw", reason=reason)
    _note(investigation, actor)
    return effect


@transaction.atomic
def estimate_action(*, action_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> CorrectiveAction:
    """The action takes this: cost in the programme's unit, mass in kg, crew hours, days until it is in place."""
    action = lock_action(action_id)
    begin_move(action, ACTION, "state_effect", actor)
    check_version(action, seen=version, changes=changes)
    cleaned = clean_values(action, changes, ESTIMATES)
    wrong = {name: [NEGATIVE] for name, value in cleaned.items() if value is not None and not 0 <= value < float("inf")}
    if wrong:
        raise BadInput(NEGATIVE, code="bad_estimate", fields=wrong)
    changed = {name: value for name, value in cleaned.items() if getattr(action, name) != value}
    if changed:
        change_record(action, changed, actor=actor, action="action.estimate")
    return action


@transaction.atomic
def tie_actions(*, action_id: int, other_id: int, kind: str, actor: User, note: str = "") -> ActionTie:
    """The action needs the other one, or excludes it, when some are chosen."""
    other = CorrectiveAction.objects.filter(pk=other_id).first()
    action, locked = _lock_pair(action_id, other_id)
    begin_move(action, ACTION, "tie", actor)
    if other is None or other_id == action_id or locked.anomaly_id != action.anomaly_id:
        raise BadInput(OTHER_ANOMALY, code="not_ours", fields={"other_id": [OTHER_ANOMALY]})
    if kind not in ActionTie.Kind.values:
        message = "Choose how they stand to each other."
        raise BadInput(message, code="no_kind", fields={"kind": [message]})
    both_ways = Q(action=action, other=other) | Q(action=other, other=action)
    standing = ActionTie.objects.filter(both_ways, state=TieState.STANDING)
    if any(kind != tie.kind or kind == ActionTie.Kind.EXCLUDES or tie.action_id == action.pk for tie in standing):
        message = TIED.format(one=action.number, other=other.number)
        raise BadInput(message, code="tied", fields={"other_id": [message]})
    tie = ActionTie(action=action, other=other, kind=kind, note=clean_text("note", note), made_by=actor)
    create_record(tie, actor=actor, action="action_tie.make")
    return tie


@transaction.atomic
def untie_actions(*, tie_id: int, actor: User, reason: str) -> ActionTie:
    """The two stand on their own again."""
    action = lock_action(ActionTie.objects.values_list("action_id", flat=True).get(pk=tie_id))
    tie = ActionTie.objects.lock(tie_id)
    tie.action = action
    move = begin_move(tie, ACTION_TIE, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    change_record(tie, {"state": move.target}, actor=actor, action="action_tie.withdraw", reason=reason)
    return tie


def _lock_pair(action_id: int, other_id: int) -> tuple[CorrectiveAction, CorrectiveAction]:
    """Both, by rising key, then the anomaly of the first; the first one twice where there's no other."""
    keys = sorted(set(CorrectiveAction.objects.filter(pk__in=(action_id, other_id)).values_list("pk", flat=True)))
    found = {key: CorrectiveAction.objects.lock(key) for key in keys if key != action_id and key < action_id}
    action = CorrectiveAction.objects.lock(action_id)
    found |= {key: CorrectiveAction.objects.lock(key) for key in keys if key > action_id}
    return lock_action(action_id), found.get(other_id, action)


def _lock_investigation(action: CorrectiveAction) -> Investigation:
    """Return the investigation of the action's anomaly, locked after both; raises Refused where there is none."""
    key = Investigation.objects.filter(anomaly=action.anomaly_id).values_list("pk", flat=True).first()
    if key is None:
        raise Refused(NO_TREE.format(number=action.anomaly.number), code="no_tree")
    return Investigation.objects.lock(key)


def _note(investigation: Investigation, actor: User) -> None:
    change_record(investigation, {}, actor=actor, action="investigation.effects")


def _clean_effect(
    investigation: Investigation,
    action: CorrectiveAction,
    kind: str,
    event: str,
    amount: float | None,
    of: str,
    new_event: str,
) -> dict[str, Any]:
    """Return the columns of an effect that the tree can take; raises BadInput naming the field at fault."""
    kinds = ActionEffect.Kind
    if kind not in kinds.values:
        raise BadInput(NO_KIND, code="no_kind", fields={"kind": [NO_KIND]})
    if event not in {target.name for target in list_targets(investigation.revision, investigation.top)}:
        message = NOT_BELOW.format(event=event[:80], top=investigation.top)
        raise BadInput(message, code="unknown_event", fields={"event": [message]})
    if amount is None and kind != kinds.RULED_OUT:
        raise BadInput(NO_AMOUNT, code="no_amount", fields={"amount": [NO_AMOUNT]})
    is_added = kind in (kinds.BARRIER, kinds.DETECTION)
    has_of = kind in (kinds.MULTIPLIED, kinds.REPLACED)
    given = {
        "kind": kind,
        "event": event,
        "amount": None if kind == kinds.RULED_OUT else amount,
        "of": of if has_of else ActionEffect.Of.PROBABILITY,
        "new_event": new_event if is_added else "",
    }
    values = clean_values(ActionEffect(), given, tuple(given))
    try:
        check_effect(investigation.revision, as_effect(ActionEffect(action=action, **values)))
    except NoBenefit as error:
        raise BadInput(error.message, code="no_effect", fields=error.fields) from None
    return values
