"""Writes of dispositions: what the board holds of events and gates of an investigation's tree, and why."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Disposition, DispositionEvidence, DispositionFinding, Evidence, Finding, Investigation
from anomalies.services.checks import begin_move, need_text
from anomalies.services.editing import attach, detach
from anomalies.services.investigations import lock_investigation, need_event, note_news
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.states import INVESTIGATION, CauseState, FindingState
from config.kit.errors import BadInput

NO_EVENTS = "Choose the events that this is about."
NO_STATE = "Choose one of the four dispositions."
NO_RATIONALE = "Say why: on what does this judgement stand?"
NO_SUPPORT = "To rule out or to confirm, name held evidence or an adopted finding."
NOT_OURS = "One of these belongs to another anomaly, or was withdrawn."
NOT_ADOPTED = "The board hasn't adopted {label} yet: only adopted findings carry a disposition."
FIRM = (CauseState.RULED_OUT, CauseState.CONFIRMED)


@transaction.atomic
def judge_events(
    *,
    investigation_id: int,
    actor: User,
    version: int,
    events: Sequence[str],
    disposition: str,
    rationale: str,
    evidence_ids: Sequence[int] = (),
    finding_ids: Sequence[int] = (),
) -> Investigation:
    """The events and gates have this disposition, with the same rationale; raises EditConflict on news.

    Ruled out enters the tree as "did not occur", confirmed as "occurred"; both need evidence or an adopted finding.
    """
    investigation = lock_investigation(investigation_id)
    begin_move(investigation, INVESTIGATION, "judge", actor)
    check_version(investigation, seen=version, changes={})
    if disposition not in CauseState.values:
        raise BadInput(NO_STATE, code="no_state", fields={"disposition": [NO_STATE]})
    rationale = need_text("rationale", rationale, NO_RATIONALE)
    names = list(dict.fromkeys(need_event(investigation, name, field="events") for name in events))
    if not names:
        raise BadInput(NO_EVENTS, code="no_events", fields={"events": [NO_EVENTS]})
    _check_support(investigation, disposition, evidence_ids, finding_ids)
    for name in names:
        _judge(investigation, name, disposition, rationale, actor, evidence_ids, finding_ids)
    note_news(investigation, actor, "investigation.judge")
    return investigation


def _judge(
    investigation: Investigation,
    name: str,
    state: str,
    rationale: str,
    actor: User,
    evidence_ids: Sequence[int],
    finding_ids: Sequence[int],
) -> None:
    judged = {"state": state, "rationale": rationale, "judged_by_id": actor.pk, "judged_at": now()}
    row = Disposition.objects.filter(investigation=investigation, event=name).first()
    action = f"disposition.{state}"
    if row is None:
        row = Disposition(investigation=investigation, event=name, **judged)
        create_record(row, actor=actor, action=action, reason=rationale)
    else:
        row = Disposition.objects.lock(row.pk)
        change_record(row, judged, actor=actor, action=action, reason=rationale)
    _set(DispositionEvidence, row, "evidence_id", evidence_ids, actor, "evidence")
    _set(DispositionFinding, row, "finding_id", finding_ids, actor, "finding")


def _set(
    model: type[DispositionEvidence | DispositionFinding],
    row: Disposition,
    name: str,
    wanted: Sequence[int],
    actor: User,
    what: str,
) -> None:
    before = set(model._base_manager.filter(disposition=row, active=True).values_list(name, flat=True))
    for key in sorted(before - set(wanted)):
        detach(model, actor=actor, action=f"disposition.remove_{what}", disposition_id=row.pk, **{name: key})
    for key in sorted(set(wanted) - before):
        attach(model, actor=actor, action=f"disposition.add_{what}", disposition_id=row.pk, **{name: key})


def _check_support(
    investigation: Investigation, state: str, evidence_ids: Sequence[int], finding_ids: Sequence[int]
) -> None:
    held = Evidence.objects.held().filter(anomaly=investigation.anomaly_id, pk__in=evidence_ids)
    if held.count() != len(set(evidence_ids)):
        raise BadInput(NOT_OURS, code="not_ours", fields={"evidence_ids": [NOT_OURS]})
    findings = list(Finding.objects.standing().filter(anomaly=investigation.anomaly_id, pk__in=finding_ids))
    if len(findings) != len(set(finding_ids)):
        raise BadInput(NOT_OURS, code="not_ours", fields={"finding_ids": [NOT_OURS]})
    if state not in FIRM:
        return
    if not evidence_ids and not finding_ids:
        raise BadInput(NO_SUPPORT, code="no_support", fields={"evidence_ids": [NO_SUPPORT]})
    for finding in findings:
        if finding.state != FindingState.ADOPTED:
            message = NOT_ADOPTED.format(label=finding.label)
            raise BadInput(message, code="not_adopted", fields={"finding_ids": [message]})
