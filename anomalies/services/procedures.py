"""Writes of procedures: new ones, drafts of revisions, which activity uses which."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.models import (
    Activity,
    Anomaly,
    CorrectiveAction,
    LedgerEntry,
    Procedure,
    ProcedureRevision,
    ProcedureUse,
)
from anomalies.models.anomaly import UNNUMBERED
from anomalies.services.checks import begin_move, clean_values
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.numbers import take_number
from anomalies.states import ACTIVITY, PROCEDURE_REVISION, ActionState, AnomalyState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

ORIGIN_FIELDS = ("summary", "anomaly_id", "action_id")
ORIGIN_KEYS = ("anomaly_id", "action_id")
UNKNOWN_ANOMALY = "This anomaly isn't known, or isn't reported yet."
CLOSED_ANOMALY = "This anomaly is closed: reopen it first, if its procedure must change again."
WRONG_ACTION = "This must be an action of the kind “procedure change” that wasn't dropped."
OTHER_ANOMALY = "This action belongs to another anomaly."


@transaction.atomic
def add_procedure(*, actor: User, title: str, kind: str) -> Procedure:
    """The procedure is there with its number, P-001 or for a card Q-001, and has no revision yet."""
    require(actor, "procedure.add")
    values = clean_values(Procedure(), {"title": title, "kind": kind}, ("title", "kind"))
    series = "Q" if values["kind"] == Procedure.Kind.CARD else "P"
    procedure = Procedure(number=f"{series}-{take_number(f'procedure {series}'):03}", **values)
    create_record(procedure, actor=actor, action="procedure.add")
    return procedure


@transaction.atomic
def rename_procedure(*, procedure_id: int, actor: User, version: int, title: str) -> Procedure:
    """The procedure has another title; raises EditConflict if it changed since `version`.

    Refused once a revision was submitted: the title is part of what people sign and learn.
    """
    procedure = Procedure.objects.lock(procedure_id)
    require(actor, "procedure.edit", procedure)
    changes = clean_values(procedure, {"title": title}, ("title",))
    check_version(procedure, seen=version, changes=changes)
    if _was_submitted(procedure):
        message = "A revision of this procedure was submitted already: its title stays. Add another procedure."
        raise Refused(message, code="title_stays")
    if changes["title"] != procedure.title:
        change_record(procedure, changes, actor=actor, action="procedure.rename")
    return procedure


@transaction.atomic
def draft_revision(
    *, procedure_id: int, actor: User, summary: str, anomaly_id: int | None = None, action_id: int | None = None
) -> ProcedureRevision:
    """A new revision is drafted, with the steps of the latest that was ever released.

    Its origin is the action that asks for it, and so that one's anomaly, or an anomaly alone, or neither. Refused
    while another one is neither released nor withdrawn: it could not be compared with the one before it.
    """
    origin = _find_origin(actor, anomaly_id, action_id)  # its locks come before the procedure's
    procedure = Procedure.objects.lock(procedure_id)
    require(actor, "procedure.draft", procedure)
    values = clean_values(ProcedureRevision(), {"summary": summary} | origin, ORIGIN_FIELDS)
    revisions = ProcedureRevision.objects.filter(procedure=procedure)
    undecided = revisions.undecided().first()
    if undecided is not None:
        message = f"Revision {undecided.number} is {undecided.state}: release it or withdraw it first."
        raise Refused(message, code="revision_undecided")
    base = revisions.ever_released().order_by("-number").first()
    last = revisions.order_by("-number").values_list("number", flat=True).first()
    revision = ProcedureRevision(
        procedure=procedure,
        number=(last or 0) + 1,
        base=base,
        steps=base.steps if base else [],
        author=actor,
        **values,
    )
    create_record(revision, actor=actor, action="procedure_revision.draft")
    return revision


@transaction.atomic
def edit_revision(*, revision_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> ProcedureRevision:
    """What the draft changes, and what caused it, is corrected; raises EditConflict if it changed since `version`."""
    if changes.keys() & set(ORIGIN_KEYS):
        kept = ProcedureRevision.objects.values(*ORIGIN_KEYS).get(pk=revision_id)
        changes = {**changes, **_find_origin(actor, **{name: changes.get(name, kept[name]) for name in ORIGIN_KEYS})}
    revision = ProcedureRevision.objects.lock(revision_id)
    changed = edit_fields(
        revision, PROCEDURE_REVISION, actor=actor, version=version, changes=changes, allowed=ORIGIN_FIELDS
    )
    if changed:
        change_record(revision, changed, actor=actor, action="procedure_revision.edit")
    return revision


@transaction.atomic
def use_procedure(*, activity_id: int, procedure_id: int, actor: User, role: str = "") -> ProcedureUse:
    """The activity uses the procedure; whoever of its crew has the role must have read it, without a role everybody."""
    activity = Activity.objects.lock(activity_id)
    begin_move(activity, ACTIVITY, "edit", actor)
    keys = clean_values(ProcedureUse(), {"procedure_id": procedure_id, "role": role}, ("procedure_id", "role"))
    return attach(ProcedureUse, actor=actor, action="activity.use_procedure", activity_id=activity.pk, **keys)


@transaction.atomic
def drop_procedure(*, activity_id: int, procedure_id: int, actor: User, role: str = "") -> None:
    """The activity doesn't use the procedure in this role."""
    activity = Activity.objects.lock(activity_id)
    begin_move(activity, ACTIVITY, "edit", actor)
    keys = {"activity_id": activity.pk, "procedure_id": procedure_id, "role": role}
    detach(ProcedureUse, actor=actor, action="activity.drop_procedure", **keys)


def _was_submitted(procedure: Procedure) -> bool:
    submitted = LedgerEntry.objects.filter(kind=ProcedureRevision.KIND, action="procedure_revision.submit")
    return submitted.filter(record_id__in=procedure.revisions.values("pk")).exists()


def _find_origin(actor: User, anomaly_id: int | None, action_id: int | None) -> dict[str, int | None]:
    """Return anomaly and action, locked so that the anomaly can't be closed meanwhile; the action names its anomaly."""
    if action_id is not None:
        action = CorrectiveAction.objects.visible_to(actor).filter(pk=action_id).select_for_update(of=("self",)).first()
        if action is None or action.kind != CorrectiveAction.Kind.PROCEDURE or action.state == ActionState.DROPPED:
            raise BadInput(WRONG_ACTION, code="wrong_action", fields={"action_id": [WRONG_ACTION]})
        if anomaly_id not in (None, action.anomaly_id):
            raise BadInput(OTHER_ANOMALY, code="other_anomaly", fields={"anomaly_id": [OTHER_ANOMALY]})
        anomaly_id = action.anomaly_id
    if anomaly_id is not None:
        known = Anomaly.objects.visible_to(actor).exclude(state__in=UNNUMBERED).filter(pk=anomaly_id)
        anomaly = known.select_for_update(of=("self",)).first()
        if anomaly is None:
            raise BadInput(UNKNOWN_ANOMALY, code="unknown_anomaly", fields={"anomaly_id": [UNKNOWN_ANOMALY]})
        if anomaly.state == AnomalyState.CLOSED:
            raise Refused(CLOSED_ANOMALY, code="anomaly_closed", fields={"anomaly_id": [CLOSED_ANOMALY]})
    return {"anomaly_id": anomaly_id, "action_id": action_id}
