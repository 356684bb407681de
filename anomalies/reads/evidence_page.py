"""Everything that the page of one piece of evidence shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from anomalies.models import Evidence, TimelineEntry
from anomalies.reads.evidence import Use, read_uses
from anomalies.reads.history import Event, read_history
from anomalies.reads.telemetry import TelemetryView, read_telemetry


@dataclass(frozen=True, slots=True)
class EvidencePage:
    """What rests on it, the entries of the timeline that do, its chart, its history."""

    uses: Sequence[Use]
    entries: Sequence[TimelineEntry]
    telemetry: TelemetryView | None
    events: Sequence[Event]


def read_evidence_page(evidence: Evidence) -> EvidencePage:
    """Gather the page; a constant number of queries."""
    standing = list(evidence.anomaly.timeline.standing())
    telemetry = read_telemetry(evidence, standing) if evidence.kind == Evidence.Kind.TELEMETRY else None
    return EvidencePage(
        uses=read_uses([evidence.pk]).get(evidence.pk, []),
        entries=[entry for entry in standing if entry.evidence_id == evidence.pk],
        telemetry=telemetry,
        events=read_history(evidence)[::-1],
    )
