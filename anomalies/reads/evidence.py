"""What pages show about evidence: what rests on it, who had it in hand, and what it adds to the timeline."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from anomalies.charts.telemetry import write_value
from anomalies.models import (
    ActionEvidence,
    Anomaly,
    CauseEvidence,
    Concurrence,
    Evidence,
    EvidenceOpening,
    FindingEvidence,
    TimelineEntry,
)
from anomalies.reads.findings import read_dissents
from anomalies.reads.telemetry import read_spans, write_duration
from anomalies.states import EvidenceState, FindingState
from anomalies.telemetry import Span

MOST_SPANS_ON_TIMELINE = 5


@dataclass(frozen=True, slots=True)
class Use:
    """A record that rests on a piece of evidence: its short name, its words, how it rests on it.

    dissents    from a finding: they stand wherever its words do
    """

    record: Any
    label: str
    words: str
    how: str
    dissents: Sequence[Concurrence] = ()


@dataclass(frozen=True, slots=True)
class Moment:
    """One line of an anomaly's timeline: an entry that somebody wrote, or what the records say by themselves.

    kind    entry, occurred, span, or taken
    """

    at: datetime
    kind: str
    words: str
    entry: TimelineEntry | None = None
    evidence: Evidence | None = None


def find_evidence(anomaly: Anomaly) -> QuerySet[Evidence]:
    """Return all evidence of the anomaly, withdrawn or not, in the order of its numbers."""
    return anomaly.evidence.select_related("added_by", "series").order_by("position")


def find_entries(anomaly: Anomaly) -> QuerySet[TimelineEntry]:
    """Return all entries of the timeline, withdrawn or not, in the order of time."""
    return anomaly.timeline.select_related("added_by", "evidence").order_by("at", "pk")


def read_uses(evidence_ids: Collection[int]) -> dict[int, list[Use]]:
    """Return key of evidence -> what rests on it; four queries, however many."""
    uses: dict[int, list[Use]] = defaultdict(list)
    resting = FindingEvidence.objects.filter(evidence__in=evidence_ids, active=True).select_related("finding")
    findings = list(resting.exclude(finding__state=FindingState.WITHDRAWN).order_by("finding__position"))
    dissents = read_dissents([row.finding_id for row in findings])
    for row in findings:
        finding, against = row.finding, dissents.get(row.finding_id, ())
        uses[row.evidence_id].append(Use(finding, finding.label, finding.statement, "rests on it", against))
    causes = CauseEvidence.objects.filter(evidence__in=evidence_ids, active=True).select_related("cause")
    for cause in causes.order_by("cause__position"):
        uses[cause.evidence_id].append(Use(cause.cause, cause.cause.label, cause.cause.statement, "was judged on it"))
    actions = ActionEvidence.objects.filter(evidence__in=evidence_ids, active=True).select_related("action")
    for action in actions.order_by("action__number", "use"):
        how = f"shown by it: {action.get_use_display()}"
        uses[action.evidence_id].append(Use(action.action, action.action.number, action.action.title, how))
    return dict(uses)


def find_openings(evidence: Evidence) -> QuerySet[EvidenceOpening]:
    """Return who opened the file of a piece of evidence, and when; the newest first."""
    return evidence.openings.select_related("person").order_by("-pk")


def count_people(evidence: Evidence) -> int:
    """Return how many people opened the file."""
    return evidence.openings.order_by().values("person").distinct().count()


def read_moments(anomaly: Anomaly, entries: Sequence[TimelineEntry], evidence: Sequence[Evidence]) -> list[Moment]:
    """Return the timeline: the entries given, the occurrence, and what the held evidence says of moments; no query.

    Of each telemetry series the longest spans out of limits, and how many more there are; its page has them.
    """
    moments = [Moment(entry.at, "entry", entry.text, entry=entry, evidence=entry.evidence) for entry in entries]
    moments.append(Moment(anomaly.occurred_at, "occurred", anomaly.title))
    for piece in evidence:
        if piece.state == EvidenceState.HELD:
            moments += _read_moments_of(piece)
    return sorted(moments, key=lambda moment: (moment.at, moment.kind))


def _read_moments_of(evidence: Evidence) -> list[Moment]:
    moments = []
    if evidence.taken_at:
        moments.append(Moment(evidence.taken_at, "taken", evidence.title, evidence=evidence))
    if evidence.kind == Evidence.Kind.TELEMETRY:
        moments += _read_spans_of(evidence)
    return moments


def _read_spans_of(evidence: Evidence) -> list[Moment]:
    spans = sorted(read_spans(evidence.series), key=lambda span: span.start - span.end)[:MOST_SPANS_ON_TIMELINE]
    spans.sort(key=lambda span: span.start)
    moments = [Moment(span.start, "span", _describe_span(evidence, span), evidence=evidence) for span in spans]
    more = evidence.series.spans_in_all - len(spans)
    if more > 0:
        words = f"{evidence.title}: {more:,} shorter span{'s' if more > 1 else ''} out of limits; see {evidence.label}"
        moments.append(Moment(spans[-1].start, "span", words, evidence=evidence))
    return moments


def _describe_span(evidence: Evidence, span: Span) -> str:
    lasting = f"for {write_duration(span.end - span.start)}" if span.samples > 1 else "in one sample"
    lasting += ", to the end of the series" if span.is_open else ""
    most = "most" if span.side == "above" else "least"
    words = f"{evidence.title} {span.side} {write_value(span.limit)} {evidence.unit} {lasting}"
    return f"{words}; {write_value(span.extreme)} {evidence.unit} at {most}"
