"""What rests on a piece of evidence or a finding alone, so that neither can be withdrawn before it."""

from __future__ import annotations

from anomalies.errors import Gap
from anomalies.models import (
    ActionEvidence,
    Bearing,
    CauseEvidence,
    Disposition,
    DispositionEvidence,
    DispositionFinding,
    Evidence,
    Finding,
    FindingEvidence,
)
from anomalies.states import ActionState, CauseState, EvidenceState, FindingState

FIRM = (CauseState.RULED_OUT, CauseState.CONFIRMED)
"""Dispositions that need something to stand on."""


def find_what_rests_on(evidence: Evidence) -> list[Gap]:
    """Return the findings, judged causes and events, bearings and verified actions that have no other support."""
    return [
        *_find_findings(evidence),
        *_find_causes(evidence),
        *_find_actions(evidence),
        *_find_dispositions(evidence),
        *_find_bearings(evidence),
    ]


def find_what_rests_on_finding(finding: Finding, *, stays: bool) -> list[Gap]:
    """Return the judged causes and events, and the bearings, that have no other support.

    stays : it is sent back and not withdrawn: bearings may go on resting on it
    """
    return [
        *_find_causes_on(finding),
        *_find_dispositions_on(finding),
        *([] if stays else _find_bearings_on(finding)),
    ]


def _find_findings(evidence: Evidence) -> list[Gap]:
    rows = FindingEvidence.objects.filter(evidence=evidence, active=True).exclude(finding__state=FindingState.WITHDRAWN)
    gaps = []
    for row in rows.select_related("finding"):
        others = row.finding.rests_on.filter(active=True, evidence__state=EvidenceState.HELD).exclude(pk=row.pk)
        if not others.exists():
            text = f"{row.finding.label} rests on {evidence.label} alone: give it other evidence, or withdraw it."
            gaps.append(Gap(text, row.finding.KIND, row.finding.pk))
    return gaps


def _find_causes(evidence: Evidence) -> list[Gap]:
    rows = CauseEvidence.objects.filter(evidence=evidence, active=True).exclude(cause__state=CauseState.OPEN)
    gaps = []
    for row in rows.select_related("cause"):
        cause = row.cause
        others = cause.judged_on.filter(active=True, evidence__state=EvidenceState.HELD).exclude(pk=row.pk)
        findings = cause.rests_on.filter(active=True, finding__state=FindingState.ADOPTED)
        if not others.exists() and not findings.exists():
            text = f"{cause.label} was judged on {evidence.label} alone: reconsider it first."
            gaps.append(Gap(text, cause.KIND, cause.pk))
    return gaps


def _find_actions(evidence: Evidence) -> list[Gap]:
    verified = (ActionState.VERIFIED, ActionState.EFFECTIVE)
    rows = ActionEvidence.objects.filter(
        evidence=evidence, active=True, use=ActionEvidence.Use.VERIFIED, action__state__in=verified
    )
    gaps = []
    for row in rows.select_related("action"):
        others = row.action.shown_by.filter(active=True, use=row.use, evidence__state=EvidenceState.HELD)
        if not others.exclude(pk=row.pk).exists():
            text = f"{row.action.number} was verified on {evidence.label} alone: reopen it first."
            gaps.append(Gap(text, row.action.KIND, row.action.pk))
    return gaps


def _find_dispositions(evidence: Evidence) -> list[Gap]:
    rows = DispositionEvidence.objects.filter(evidence=evidence, active=True, disposition__state__in=FIRM)
    return [
        Gap(f"{judged.event} was judged on {evidence.label} alone: judge it anew first.", judged.KIND, judged.pk)
        for judged in (row.disposition for row in rows.select_related("disposition"))
        if not _is_supported(judged, but_evidence=evidence.pk)
    ]


def _find_dispositions_on(finding: Finding) -> list[Gap]:
    rows = DispositionFinding.objects.filter(finding=finding, active=True, disposition__state__in=FIRM)
    return [
        Gap(f"{judged.event} was judged on {finding.label} alone: judge it anew first.", judged.KIND, judged.pk)
        for judged in (row.disposition for row in rows.select_related("disposition"))
        if not _is_supported(judged, but_finding=finding.pk)
    ]


def _is_supported(judged: Disposition, *, but_evidence: int = 0, but_finding: int = 0) -> bool:
    """Tell whether held evidence or an adopted finding carries a disposition, apart from one of them."""
    held = judged.judged_on.filter(active=True, evidence__state=EvidenceState.HELD).exclude(evidence=but_evidence)
    adopted = judged.rests_on.filter(active=True, finding__state=FindingState.ADOPTED).exclude(finding=but_finding)
    return held.exists() or adopted.exists()


def _find_bearings(evidence: Evidence) -> list[Gap]:
    rows = Bearing.objects.standing().filter(evidence=evidence).select_related("finding")
    return [
        Gap(f"{row.label} enters {evidence.label} into the fault tree: withdraw it first.", row.KIND, row.pk)
        for row in rows
        if row.finding is None or row.finding.state == FindingState.WITHDRAWN
    ]


def _find_bearings_on(finding: Finding) -> list[Gap]:
    rows = Bearing.objects.standing().filter(finding=finding).select_related("evidence")
    return [
        Gap(f"{row.label} enters {finding.label} into the fault tree: withdraw it first.", row.KIND, row.pk)
        for row in rows
        if row.evidence is None or row.evidence.state == EvidenceState.WITHDRAWN
    ]


def _find_causes_on(finding: Finding) -> list[Gap]:
    gaps = []
    for row in finding.causes_resting.filter(active=True).exclude(cause__state=CauseState.OPEN).select_related("cause"):
        cause = row.cause
        others = cause.rests_on.filter(active=True, finding__state=FindingState.ADOPTED).exclude(finding=finding)
        if not others.exists() and not cause.judged_on.filter(active=True, evidence__state=EvidenceState.HELD).exists():
            text = f"{cause.label} was judged on {finding.label} alone: reconsider it first."
            gaps.append(Gap(text, cause.KIND, cause.pk))
    return gaps
