"""Sections of the dossier about the investigation: the board and its findings, and the causes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User

from anomalies.models import Anomaly, CauseEvidence, CauseFinding, Concurrence, FindingEvidence
from anomalies.reads.causes import read_why_chain
from anomalies.reads.findings import read_board, read_findings
from anomalies.web.dossier import section


@section(
    "findings",
    "Board and findings",
    template="anomalies/findings/_section.html",
    parts=lambda anomaly: [
        anomaly.board.all(),
        anomaly.findings.all(),
        FindingEvidence.objects.filter(finding__anomaly=anomaly),
        Concurrence.objects.filter(finding__anomaly=anomaly),
        anomaly.meeting_decisions.all(),
    ],
)
def gather_findings(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The board, every finding with its positions, and what meetings decided about the anomaly."""
    views = read_findings(anomaly)
    decisions = anomaly.meeting_decisions.select_related("meeting").order_by("pk")
    return {"board": read_board(anomaly), "views": views, "decisions": decisions, "count": len(views)}


@section(
    "causes",
    "Causes",
    template="anomalies/causes/_section.html",
    parts=lambda anomaly: [
        anomaly.causes.all(),
        CauseFinding.objects.filter(cause__anomaly=anomaly),
        CauseEvidence.objects.filter(cause__anomaly=anomaly),
        anomaly.occurrences.all(),
    ],
)
def gather_causes(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The why-chain, and the failure modes that the anomaly is an occurrence of."""
    chain = read_why_chain(anomaly)
    named = anomaly.occurrences.filter(active=True).select_related("failure_mode")
    return {"chain": chain, "named": named, "count": anomaly.causes.count() if chain else 0}
