"""Writes of findings: proposed on evidence, stood for or against by the board, adopted under a signature."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import Anomaly, Concurrence, Evidence, Finding, FindingEvidence
from anomalies.services.checks import begin_move, clean_values, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.services.support import find_what_rests_on_finding
from anomalies.states import ANOMALY, FINDING, EvidenceState, FindingState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

FIELDS = ("kind", "statement")
NO_EVIDENCE = "Name the evidence it rests on: at least one piece of this anomaly that wasn't withdrawn."
NO_GROUNDS = "Say on what grounds you dissent."
OTHER_WORDING = "The wording changed since you read it; read it again."
WHY = "Say why."


@transaction.atomic
def propose_finding(*, anomaly_id: int, actor: User, kind: str, statement: str, evidence_ids: Sequence[int]) -> Finding:
    """The finding is before the board, resting on the evidence."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    require(actor, "finding.propose", anomaly)
    begin_move(anomaly, ANOMALY, "investigate", actor)
    values = clean_values(Finding(), {"kind": kind, "statement": statement}, FIELDS)
    _check_evidence(anomaly, evidence_ids)
    last = anomaly.findings.aggregate(last=Max("position"))["last"] or 0
    finding = Finding(**values, anomaly=anomaly, position=last + 1, author=actor, proposed_at=now())
    create_record(finding, actor=actor, action="finding.propose")
    for evidence_id in dict.fromkeys(evidence_ids):
        _attach(finding, evidence_id, actor)
    return finding


@transaction.atomic
def edit_finding(*, finding_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> Finding:
    """The proposed finding is put otherwise; positions on the wording before don't count for this one."""
    finding = _lock(finding_id)
    changed = edit_fields(finding, FINDING, actor=actor, version=version, changes=changes, allowed=FIELDS)
    if "statement" in changed:
        changed["wording"] = finding.wording + 1
    if changed:
        change_record(finding, changed, actor=actor, action="finding.edit")
    return finding


@transaction.atomic
def rest_finding_on(*, finding_id: int, actor: User, version: int, evidence_ids: Sequence[int]) -> Finding:
    """The proposed finding rests on this evidence and no other; raises EditConflict.

    What it rests on is part of what the board stands for: other evidence is another wording.
    """
    finding = _lock(finding_id)
    begin_move(finding, FINDING, "edit", actor)
    check_version(finding, seen=version, changes={})
    _check_evidence(finding.anomaly, evidence_ids)
    before = set(finding.rests_on.filter(active=True).values_list("evidence_id", flat=True))
    for evidence_id in sorted(before - set(evidence_ids)):
        keys = {"finding_id": finding.pk, "evidence_id": evidence_id}
        detach(FindingEvidence, actor=actor, action="finding.remove_evidence", **keys)
    for evidence_id in sorted(set(evidence_ids) - before):
        _attach(finding, evidence_id, actor)
    if before != set(evidence_ids):
        change_record(finding, {"wording": finding.wording + 1}, actor=actor, action="finding.rest_on")
    return finding


@transaction.atomic
def state_position(*, finding_id: int, actor: User, stand: str, wording: int, text: str = "") -> Concurrence:
    """It's on record where the member stands on this wording; a later position replaces it, the ledger keeps both."""
    finding = _lock(finding_id)
    begin_move(finding, FINDING, "state_position", actor)
    if wording != finding.wording:
        raise Refused(OTHER_WORDING, code="other_wording")
    values = clean_values(Concurrence(), {"stand": stand, "text": text}, ("stand", "text"))
    if values["stand"] == Concurrence.Stand.DISSENTS:
        need_text("text", text, NO_GROUNDS)
    values |= {"wording": wording, "stated_at": now()}
    position = finding.concurrences.filter(member=actor).first()
    action = f"finding.{'dissent' if values['stand'] == Concurrence.Stand.DISSENTS else 'concur'}"
    if position is None:
        position = Concurrence(finding=finding, member=actor, **values)
        create_record(position, actor=actor, action=action)
    else:
        change_record(position, values, actor=actor, action=action)
    return position


@transaction.atomic
def adopt_finding(*, finding_id: int, actor: User, version: int, proof: PasswordProof) -> Finding:
    """The finding is adopted and signed; refused while a member of the board hasn't said where they stand."""
    finding = _lock(finding_id)
    move = begin_move(finding, FINDING, "adopt", actor)
    gaps = find_adoption_gaps(finding)
    if gaps:
        raise Missing("This finding can't be adopted yet.", gaps, code="not_ready")
    dissents = finding.concurrences.filter(stand=Concurrence.Stand.DISSENTS, wording=finding.wording).count()
    rests = finding.rests_on.filter(active=True).select_related("evidence").order_by("evidence__position")
    evidence = ", ".join(row.evidence.label for row in rests)
    meaning = f"Adopted: {finding.label} of {finding.anomaly.number}, resting on {evidence}, {dissents} dissenting."
    sign(finding, actor=actor, proof=proof, seen=version, meaning=meaning, permission="add_finding")
    changes = {"state": move.target, "state_reason": ""}
    change_record(finding, changes, actor=actor, action="finding.adopt")
    return finding


def find_adoption_gaps(finding: Finding) -> list[Gap]:
    """Return what keeps the board from adopting a finding."""
    seated = finding.anomaly.board.filter(active=True).select_related("person")
    stands = {row.member_id: row for row in finding.concurrences.filter(wording=finding.wording)}
    silent = [seat.person for seat in seated if seat.person_id not in stands]
    names = [person.get_full_name() or person.username for person in silent]
    gaps = [Gap(f"{name} hasn't said where they stand on this wording.", finding.KIND, finding.pk) for name in names]
    if not seated:
        gaps.append(Gap("Nobody sits on the board of this anomaly.", Anomaly.KIND, finding.anomaly_id))
    elif not any(stands[s.person_id].stand == "concurs" for s in seated if s.person_id in stands):
        gaps.append(Gap("No member of the board concurs.", finding.KIND, finding.pk))
    if not finding.rests_on.filter(active=True, evidence__state=EvidenceState.HELD).exists():
        gaps.append(Gap("All evidence it rests on was withdrawn.", finding.KIND, finding.pk))
    return gaps


@transaction.atomic
def send_back_finding(*, finding_id: int, actor: User, reason: str) -> Finding:
    """The adopted finding is before the board again; the signature and the positions stay on record."""
    return _end(finding_id, "send_back", actor, reason)


@transaction.atomic
def withdraw_finding(*, finding_id: int, actor: User, reason: str) -> Finding:
    """The finding doesn't count any more, and stays on record. Refused while something rests on it alone."""
    return _end(finding_id, "withdraw", actor, reason)


def _end(finding_id: int, name: str, actor: User, reason: str) -> Finding:
    finding = _lock(finding_id)
    move = begin_move(finding, FINDING, name, actor)
    reason = need_text("reason", reason, WHY)
    gaps = find_what_rests_on_finding(finding, stays=move.target == FindingState.PROPOSED)
    if gaps:
        raise Missing("Something rests on this finding alone.", gaps, code="rested_on")
    changes = {"state": move.target, "state_reason": reason}
    change_record(finding, changes, actor=actor, action=f"finding.{name}", reason=reason)
    return finding


def _attach(finding: Finding, evidence_id: int, actor: User) -> FindingEvidence:
    keys = {"finding_id": finding.pk, "evidence_id": evidence_id}
    return attach(FindingEvidence, actor=actor, action="finding.add_evidence", **keys)


def _check_evidence(anomaly: Anomaly, evidence_ids: Sequence[int]) -> None:
    held = Evidence.objects.held().filter(anomaly=anomaly, pk__in=evidence_ids).count()
    if not evidence_ids or held != len(set(evidence_ids)):
        raise BadInput(NO_EVIDENCE, code="no_evidence", fields={"evidence_ids": [NO_EVIDENCE]})


def _lock(finding_id: int) -> Finding:
    """Lock the anomaly first: it mustn't be closed meanwhile."""
    anomaly = Anomaly.objects.lock(Finding.objects.values_list("anomaly_id", flat=True).get(pk=finding_id))
    finding = Finding.objects.lock(finding_id)
    finding.anomaly = anomaly
    return finding
