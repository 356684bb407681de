"""Moves of a procedure's revision, from the draft to release and beyond."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.cards import CARD_LINES, count_card_lines, write_heading
from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import Acknowledgement, Activity, Procedure, ProcedureRevision
from anomalies.services.checks import ask_first, begin_move, lock_named, need_text
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import PROCEDURE_REVISION, ActivityState, RevisionState
from anomalies.steps import StepKind, find_children, number_steps
from config.kit.errors import NotAllowed, Refused

WHY = "Say why."
AUTHOR_APPROVES = "You wrote this revision, or part of it: somebody else must approve it."


@transaction.atomic
def submit_revision(*, revision_id: int, actor: User, version: int) -> ProcedureRevision:
    """The revision awaits approval; raises EditConflict if it changed since `version`.

    Refused, naming all that is missing, while there's nothing to do or to change, a group is empty, a check has no
    reading, or a card is too long.
    """
    revision = _lock_revision(revision_id)
    move = begin_move(revision, PROCEDURE_REVISION, "submit", actor)
    check_version(revision, seen=version, changes={})
    missing = find_missing(revision)
    if missing:
        gaps = [Gap(text, revision.KIND, revision.pk, name.replace(" ", "-")) for name, text in missing.items()]
        fields = {name: [text] for name, text in missing.items()}
        raise Missing("This can't be submitted yet.", gaps, code="incomplete", fields=fields)
    changes = {"state": move.target, "state_reason": ""}
    change_record(revision, changes, actor=actor, action="procedure_revision.submit")
    return revision


@transaction.atomic
def send_back_revision(*, revision_id: int, actor: User, reason: str) -> ProcedureRevision:
    """The revision is a draft again, and an approval of it doesn't hold any more; its sign-off stays on record."""
    revision = _lock_revision(revision_id)
    move = begin_move(revision, PROCEDURE_REVISION, "send_back", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason, "approver_id": None, "approved_at": None}
    change_record(revision, changes, actor=actor, action="procedure_revision.send_back", reason=reason)
    return revision


@transaction.atomic
def approve_revision(*, revision_id: int, actor: User, version: int, proof: PasswordProof) -> ProcedureRevision:
    """The revision is approved and signed as the actor read it at `version`. Never by anybody who wrote any of it."""
    revision = _lock_revision(revision_id)
    if revision.was_written_by(actor):
        raise NotAllowed(AUTHOR_APPROVES, code="author_approves")
    move = begin_move(revision, PROCEDURE_REVISION, "approve", actor)
    meaning = f"Approved: {revision.procedure.number}, revision {revision.number}, may be released."
    sign(revision, actor=actor, proof=proof, seen=version, meaning=meaning, permission="approve_procedure")
    changes = {"state": move.target, "approver_id": actor.pk, "approved_at": now()}
    change_record(revision, changes, actor=actor, action="procedure_revision.approve")
    return revision


@transaction.atomic
def release_revision(
    *, revision_id: int, actor: User, version: int, proof: PasswordProof, effective_from_id: int
) -> ProcedureRevision:
    """The revision is in force from the planned start of an activity on; the one released before is superseded.

    That one still holds for activities that start earlier. Refused unless the activity is still planned.
    """
    ask_first(actor, "procedure_revision.release", ProcedureRevision.objects.all(), revision_id)
    activity = lock_named("effective_from_id", Activity.objects.all(), effective_from_id)
    revision = _lock_revision(revision_id)
    move = begin_move(revision, PROCEDURE_REVISION, "release", actor)
    if activity.state != ActivityState.PLANNED:
        message = f"“{activity}” is {activity.get_state_display().lower()}: choose an activity that is still planned."
        raise Refused(message, code="not_planned", fields={"effective_from_id": [message]})
    name = f"{revision.procedure.number}, revision {revision.number}"
    meaning = f"Released: {name}, is in force from “{activity}” (activity {activity.pk}) on."
    released = ProcedureRevision.objects.filter(procedure=revision.procedure_id, state=RevisionState.RELEASED)
    before = released.select_for_update().first()
    sign(revision, actor=actor, proof=proof, seen=version, meaning=meaning, permission="release_procedure")
    if before is not None:
        superseded = begin_move(before, PROCEDURE_REVISION, "supersede", actor)
        reason = f"Revision {revision.number} was released."
        change_record(
            before, {"state": superseded.target}, actor=actor, action="procedure_revision.supersede", reason=reason
        )
    changes = {"state": move.target, "released_at": now(), "effective_from_id": activity.pk}
    change_record(revision, changes, actor=actor, action="procedure_revision.release")
    return revision


@transaction.atomic
def withdraw_revision(*, revision_id: int, actor: User, reason: str) -> ProcedureRevision:
    """The revision is of no use any more. If it was in force, nothing is until another one is released."""
    revision = _lock_revision(revision_id)
    move = begin_move(revision, PROCEDURE_REVISION, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(revision, changes, actor=actor, action="procedure_revision.withdraw", reason=reason)
    return revision


@transaction.atomic
def acknowledge_revision(*, revision_id: int, actor: User) -> Acknowledgement:
    """It's on record that the actor has read the revision; once is enough."""
    revision = _lock_revision(revision_id)
    begin_move(revision, PROCEDURE_REVISION, "acknowledge", actor)
    found = revision.acknowledgements.filter(person=actor).first()
    if found is not None:
        return found
    acknowledgement = Acknowledgement(revision=revision, person=actor, acknowledged_at=now())
    create_record(acknowledgement, actor=actor, action="procedure_revision.acknowledge")
    return acknowledgement


def find_missing(revision: ProcedureRevision) -> dict[str, str]:
    """Return what keeps the draft from being submitted: key of a step, or "steps" -> a whole sentence."""
    steps, procedure = revision.read_steps(), revision.procedure
    heading = write_heading(procedure.number, revision.number, procedure.title)
    numbers, children = number_steps(steps), find_children(steps)
    missing: dict[str, str] = {}
    for step in steps:
        if step.kind == StepKind.GROUP and step.key not in children:
            missing[f"step {step.key}"] = f"Step {numbers[step.key]} is a group without steps."
        if step.kind == StepKind.CHECK and step.reading is None:
            missing[f"step {step.key}"] = f"Step {numbers[step.key]} doesn't say what reading is expected."
    if all(step.kind == StepKind.GROUP for step in steps):
        missing["steps"] = "There is no step to do."
    elif revision.base is not None and revision.base.read_steps() == steps:
        missing["steps"] = f"No step differs from revision {revision.base.number}."
    elif revision.procedure.is_card and (lines := count_card_lines(steps, heading)) > CARD_LINES:
        missing["steps"] = f"It takes {lines} lines; a card has {CARD_LINES}: shorten it by {lines - CARD_LINES}."
    return missing


def _lock_revision(revision_id: int) -> ProcedureRevision:
    """Lock the procedure first: of all its revisions only one moves at a time."""
    procedure_id = ProcedureRevision.objects.values_list("procedure_id", flat=True).get(pk=revision_id)
    Procedure.objects.lock(procedure_id)
    return ProcedureRevision.objects.lock(revision_id)
