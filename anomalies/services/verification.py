"""Writes of verification: somebody other than owner and doer confirms an action, and later that it works."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import ActionEvidence, CorrectiveAction, Evidence
from anomalies.reads.effectiveness import find_recurrences, read_watch
from anomalies.services.action_work import attach_evidence
from anomalies.services.actions import lock_action, undo_action
from anomalies.services.checks import begin_move, need_text
from anomalies.services.ledger import change_record
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import ACTION, EvidenceState
from config.kit.errors import NotAllowed

OWN = "You own this action, or did it: somebody else must verify it."
NO_NOTE = "Say what you looked at, and how it meets the criteria."
WHY = "Say what isn't met."
NO_EFFECT_NOTE = "Say on what it counts as effective."


@transaction.atomic
def verify_action(
    *, action_id: int, actor: User, version: int, note: str, evidence_ids: Sequence[int], proof: PasswordProof
) -> CorrectiveAction:
    """The action meets its criteria, by evidence, under the signature of somebody who neither owns it nor did it."""
    action = lock_action(action_id)
    if actor.pk in (action.owner_id, action.doer_id):
        raise NotAllowed(OWN, code="own_action")
    move = begin_move(action, ACTION, "verify", actor)
    note = need_text("verification_note", note, NO_NOTE)
    sign(
        action,
        actor=actor,
        proof=proof,
        seen=version,
        meaning=_write_meaning(action, evidence_ids),
        permission="verify_correctiveaction",
    )
    attach_evidence(action, evidence_ids, ActionEvidence.Use.VERIFIED, actor)
    gaps = find_verification_gaps(action)
    if gaps:
        raise Missing("This can't be verified yet.", gaps, code="not_shown")
    verified = {"verifier_id": actor.pk, "verified_at": now(), "verification_note": note}
    change_record(action, verified | {"state": move.target, "state_reason": ""}, actor=actor, action="action.verify")
    return action


def _write_meaning(action: CorrectiveAction, evidence_ids: Sequence[int]) -> str:
    """Return what is signed: what was verified, by which evidence, for which causes."""
    shown = Evidence.objects.filter(anomaly=action.anomaly_id, pk__in=evidence_ids).order_by("position")
    pieces = [f"{row.label} (SHA-256 {row.sha256})" if row.sha256 else f"{row.label} ({row.title})" for row in shown]
    causes = [row.cause for row in action.addresses.filter(active=True).select_related("cause")]
    labels = ", ".join(cause.label for cause in sorted(causes, key=lambda cause: cause.position))
    criteria = action.acceptance_criteria.rstrip(".")
    return (
        f"Verified: {action.number} of {action.anomaly.number}, against {labels}, meets its acceptance criteria: "
        f"{criteria}. Shown by {', '.join(pieces)}."
    )


def find_verification_gaps(action: CorrectiveAction) -> list[Gap]:
    """Return what keeps a done action from being verified."""
    gaps = []
    if not action.acceptance_criteria:
        gaps.append(Gap(f"{action.number} has no acceptance criteria.", action.KIND, action.pk))
    shown = action.shown_by.filter(active=True, use=ActionEvidence.Use.VERIFIED, evidence__state=EvidenceState.HELD)
    if not shown.exists():
        text = f"No evidence shows that {action.number} meets its criteria: choose a piece, or add one to the anomaly."
        gaps.append(Gap(text, action.KIND, action.pk))
    return gaps + [
        Gap(f"{row} came after it was done, as a recurrence: send it back, or withdraw that link.", row.KIND, row.pk)
        for row in find_recurrences(action)
    ]


@transaction.atomic
def send_back_action(*, action_id: int, actor: User, reason: str) -> CorrectiveAction:
    """The action doesn't meet its criteria and is to be done again."""
    action = lock_action(action_id)
    move = begin_move(action, ACTION, "send_back", actor)
    reason = need_text("reason", reason, WHY)
    return undo_action(action, move.target, actor=actor, action_name="action.send_back", reason=reason)


@transaction.atomic
def find_action_effective(*, action_id: int, actor: User, note: str) -> CorrectiveAction:
    """The verified action works: its watch is over without a recurrence. The anomaly may be closed by then."""
    action = CorrectiveAction.objects.lock(action_id)
    move = begin_move(action, ACTION, "find_effective", actor)
    note = need_text("note", note, NO_EFFECT_NOTE)
    watch = read_watch(action)
    gaps = [Gap(f"{row} is recorded as a recurrence.", row.KIND, row.pk) for row in watch.recurrences]
    if watch.left:
        text = f"{watch.passed} of {watch.needed} activities have passed since it was verified: {watch.left} more."
        gaps.append(Gap(text, action.KIND, action.pk))
    if gaps:
        raise Missing("The watch on this action isn't over.", gaps, code="watch_not_over")
    changes = {"state": move.target, "effectiveness_note": note}
    change_record(action, changes, actor=actor, action="action.find_effective", reason=note)
    return action
