"""Verified actions become part of a tree, under a signature: from then on its figures have them."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import ActionEffect, Anomaly, Baseline, CorrectiveAction, Investigation
from anomalies.reads.effects import as_effect, describe_effect
from anomalies.services.checks import ask_first, begin_move, clean_text
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.sign_off import PasswordProof, check_proof, sign
from anomalies.states import INVESTIGATION, ActionState
from config.kit.errors import BadInput, Conflict, DomainError
from faulttree.facade import NoBenefit, TreeRevision, adopt_effects, find_newest, read_benefit

COPY, ORIGIN = "copy", "origin"
TARGETS = {COPY: "The investigation's own tree", ORIGIN: "The tree it was copied from"}
NO_ACTIONS = "Choose the actions that are verified and in place."
NOT_OURS = "One of these belongs to another anomaly."
NO_TARGET = "Choose the tree that they become part of."


@transaction.atomic
def take_as_baseline(
    *,
    investigation_id: int,
    actor: User,
    version: int,
    action_ids: Sequence[int],
    target: str,
    proof: PasswordProof,
    note: str = "",
) -> Baseline:
    """The newest revision of a tree, with the effects of verified actions, is its new one; signed.

    target : "copy" for the investigation's own tree, "origin" for the one it was copied from
    Raises BadInput for an action that isn't verified or has no effect, Conflict where the tree lacks a target.
    """
    ask_first(actor, "investigation.take_baseline", Investigation.objects.all(), investigation_id)
    actions = [CorrectiveAction.objects.lock(key) for key in sorted(set(action_ids)) if _is_there(key)]
    key = Investigation.objects.values_list("anomaly_id", flat=True).get(pk=investigation_id)
    anomaly = Anomaly.objects.lock(key)
    investigation = Investigation.objects.lock(investigation_id)
    investigation.anomaly = anomaly
    begin_move(investigation, INVESTIGATION, "take_baseline", actor)
    check_proof(actor, proof)
    check_version(investigation, seen=version, changes={})
    if target not in TARGETS:
        raise BadInput(NO_TARGET, code="no_target", fields={"target": [NO_TARGET]})
    tree_id = investigation.tree_id if target == COPY else investigation.origin.tree_id
    effects = _check_actions(investigation, actions, action_ids, tree_id)
    numbers = [action.number for action in actions]
    note = clean_text("note", note)
    before = find_newest(tree_id)
    assert before is not None
    told = f"{', '.join(numbers)} of {anomaly.number} verified. {note}".strip()
    revision = adopt_effects(actor=actor, tree_id=tree_id, effects=[as_effect(row) for row in effects], note=told)
    figures = [_find_top(each, investigation) for each in (before, revision)]
    meaning = _write_meaning(investigation, numbers, effects, revision)
    sign(investigation, actor=actor, proof=proof, seen=version, meaning=meaning, permission="quantify_risk")
    baseline = Baseline(
        investigation=investigation,
        revision_id=revision.pk,
        actions=numbers,
        before=figures[0],
        after=figures[1],
        note=note,
        taken_by=actor,
        taken_at=now(),
    )
    create_record(baseline, actor=actor, action="baseline.take")
    change_record(investigation, {}, actor=actor, action="investigation.take_baseline")
    return baseline


def list_ready(investigation: Investigation) -> list[CorrectiveAction]:
    """Return the actions of the anomaly that are verified and have an effect, oldest first."""
    ready = CorrectiveAction.objects.filter(
        anomaly=investigation.anomaly_id, state__in=(ActionState.VERIFIED, ActionState.EFFECTIVE)
    )
    return list(ready.filter(pk__in=ActionEffect.objects.standing().values("action")).order_by("pk"))


def _is_there(key: int) -> bool:
    return CorrectiveAction.objects.filter(pk=key).exists()


def _check_actions(
    investigation: Investigation, actions: list[CorrectiveAction], asked: Sequence[int], tree_id: int
) -> list[ActionEffect]:
    if not asked:
        raise _refuse(NO_ACTIONS, "no_actions")
    if len(actions) != len(set(asked)) or any(each.anomaly_id != investigation.anomaly_id for each in actions):
        raise _refuse(NOT_OURS, "not_ours")
    taken = Baseline.objects.filter(revision__tree=tree_id).values_list("actions", flat=True)
    there = {number for numbers in taken for number in numbers}
    effects: list[ActionEffect] = []
    for action in actions:
        own = list(action.effects.standing().select_related("action"))
        if action.state not in (ActionState.VERIFIED, ActionState.EFFECTIVE):
            raise _refuse(f"{action.number} isn't verified yet: what isn't in place can't be part of it.", "unverified")
        if action.number in there:
            raise _refuse(f"{action.number} is part of this tree already.", "taken_already")
        if not own:
            raise _refuse(f"{action.number} has no effect on the tree: state it on the action first.", "no_effect")
        effects += own
    return effects


def _refuse(message: str, code: str) -> DomainError:
    return BadInput(message, code=code, fields={"action_ids": [message]})


def _find_top(revision: TreeRevision, investigation: Investigation) -> float | None:
    """The exact top-event probability; None where it takes longer than a person waits."""
    try:
        return read_benefit(revision, investigation.top, investigation.mission_time, (), ()).before.probability
    except NoBenefit as error:
        if "longer than" in error.message:
            return None
        raise Conflict(f"Revision {revision.number} of {revision.tree.name}: {error.message}", code="no_top") from None


def _write_meaning(
    investigation: Investigation, numbers: list[str], effects: list[ActionEffect], revision: TreeRevision
) -> str:
    """Return what is signed: the actions, what each does, and the revision that holds it."""
    told = "; ".join(f"{row.action.number}: {describe_effect(row)}" for row in effects)
    return (
        f"Taken as baseline: {', '.join(numbers)} of {investigation.anomaly.number} are verified and part of revision "
        f"{revision.number} of {revision.tree.name}. {told}."
    )
