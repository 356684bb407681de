"""What rests on a piece of evidence alone, so that the evidence can't be withdrawn before it."""

from __future__ import annotations

from anomalies.errors import Gap
from anomalies.models import ActionEvidence, Bearing, CauseEvidence, DispositionEvidence, Evidence, FindingEvidence
from anomalies.states import ActionState, CauseState, EvidenceState, FindingState


def find_what_rests_on(evidence: Evidence) -> list[Gap]:
    """Return the findings, judged causes and events, bearings and verified actions that have no other support."""
    return [
        *_find_findings(evidence),
        *_find_causes(evidence),
        *_find_actions(evidence),
        *_find_dispositions(evidence),
        *_find_bearings(evidence),
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
    firm = (CauseState.RULED_OUT, CauseState.CONFIRMED)
    rows = DispositionEvidence.objects.filter(evidence=evidence, active=True, disposition__state__in=firm)
    gaps = []
    for row in rows.select_related("disposition"):
        judged = row.disposition
        others = judged.judged_on.filter(active=True, evidence__state=EvidenceState.HELD).exclude(pk=row.pk)
        if not others.exists() and not judged.rests_on.filter(active=True).exists():
            text = f"{judged.event} was judged on {evidence.label} alone: judge it anew first."
            gaps.append(Gap(text, judged.KIND, judged.pk))
    return gaps


def _find_bearings(evidence: Evidence) -> list[Gap]:
    return [
        Gap(f"{row.label} enters {evidence.label} into the fault tree: withdraw it first.", row.KIND, row.pk)
        for row in Bearing.objects.standing().filter(evidence=evidence, finding=None)
    ]
