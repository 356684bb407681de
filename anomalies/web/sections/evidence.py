"""Sections of the dossier: the timeline, and the evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User

from anomalies.models import Anomaly, Evidence
from anomalies.reads.evidence import Use, find_entries, find_evidence, read_moments, read_uses
from anomalies.reads.telemetry import TelemetryView, read_telemetry
from anomalies.states import EvidenceState, TimelineState
from anomalies.web.dossier import section

MOST_CHARTS = 4


@dataclass(frozen=True, slots=True)
class EvidenceRow:
    """A piece of evidence as the dossier lists it; the first series have a small chart there."""

    evidence: Evidence
    uses: Sequence[Use]
    telemetry: TelemetryView | None


@section(
    "timeline",
    "Timeline",
    template="anomalies/timeline/_section.html",
    parts=lambda anomaly: [anomaly.timeline.all()],
)
def gather_timeline(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """Entries, and the moments that the records know by themselves, in the order of time."""
    entries = list(find_entries(anomaly))
    standing = [entry for entry in entries if entry.state == TimelineState.STANDING]
    withdrawn = [entry for entry in entries if entry.state != TimelineState.STANDING]
    moments = read_moments(anomaly, standing, list(find_evidence(anomaly)))
    return {"moments": moments, "withdrawn": withdrawn, "count": len(standing)}


@section(
    "evidence",
    "Evidence",
    template="anomalies/evidence/_section.html",
    parts=lambda anomaly: [anomaly.evidence.all()],  # who opened a file stands on the page of the evidence
)
def gather_evidence(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """Each piece with what rests on it, and the first series drawn."""
    pieces = list(find_evidence(anomaly))
    held = [piece for piece in pieces if piece.state == EvidenceState.HELD]
    uses = read_uses([piece.pk for piece in pieces])
    series = [piece.pk for piece in held if piece.kind == Evidence.Kind.TELEMETRY][:MOST_CHARTS]
    entries = list(anomaly.timeline.standing()) if series else []
    rows = [
        EvidenceRow(
            piece,
            uses.get(piece.pk, []),
            read_telemetry(piece, entries, is_small=True) if piece.pk in series else None,
        )
        for piece in held
    ]
    withdrawn = [EvidenceRow(piece, uses.get(piece.pk, []), None) for piece in pieces if piece not in held]
    return {"rows": rows, "withdrawn": withdrawn, "count": len(held)}
