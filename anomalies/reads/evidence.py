"""What pages show about evidence: what rests on it, who had it in hand, and what it adds to the timeline."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Max, QuerySet

from anomalies.charts.telemetry import write_value
from anomalies.models import (
    ActionEvidence,
    Anomaly,
    CauseEvidence,
    Evidence,
    EvidenceOpening,
    FindingEvidence,
    TimelineEntry,
)
from anomalies.reads.telemetry import read_spans, write_duration
from anomalies.states import EvidenceState, FindingState

MOST_SPANS_ON_TIMELINE = 5


@dataclass(frozen=True, slots=True)
class Use:
    """A record that rests on a piece of evidence: its short name, its words, how it rests on it."""

    record: Any
    label: str
    words: str
    how: str


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
    """Return key of evidence -> what rests on it; three queries, however many."""
    uses: dict[int, list[Use]] = defaultdict(list)
    findings = FindingEvidence.objects.filter(evidence__in=evidence_ids, active=True).select_related("finding")
    for finding in findings.exclude(finding__state=FindingState.WITHDRAWN).order_by("finding__position"):
        uses[finding.evidence_id].append(
            Use(finding.finding, finding.finding.label, finding.finding.statement, "rests on it")
        )
    causes = CauseEvidence.objects.filter(evidence__in=evidence_ids, active=True).select_related("cause")
    for cause in causes.order_by("cause__position"):
        uses[cause.evidence_id].append(Use(cause.cause, cause.cause.label, cause.cause.statement, "was judged on it"))
    actions = ActionEvidence.objects.filter(evidence__in=evidence_ids, active=True).select_related("action")
    for action in actions.order_by("action__number", "use"):
        how = f"shown by it: {action.get_use_display()}"
        uses[action.evidence_id].append(Use(action.action, action.action.number, action.action.title, how))
    return dict(uses)


@dataclass(frozen=True, slots=True)
class Custody:
    """Who opened a file: the newest openings, how many there are, and how many people that were."""

    newest: Sequence[EvidenceOpening]
    count: int
    people: int
    last: datetime | None

    @property
    def has_more(self) -> bool:
        """There are more openings than the newest."""
        return self.count > len(self.newest)


def read_custody(evidence: Evidence, newest: int = 50) -> Custody:
    """Return who opened the file of a piece of evidence."""
    found = evidence.openings.aggregate(count=Count("pk"), people=Count("person", distinct=True), last=Max("opened_at"))
    rows = evidence.openings.select_related("person").order_by("-pk")[:newest]
    return Custody(list(rows), **found)


def read_moments(anomaly: Anomaly, entries: Sequence[TimelineEntry], evidence: Sequence[Evidence]) -> list[Moment]:
    """Return the timeline: the entries given, the occurrence, and what the held evidence says of moments; no query.

    Of each telemetry series the first spans out of limits; its page has them all.
    """
    moments = [Moment(entry.at, "entry", entry.text, entry=entry, evidence=entry.evidence) for entry in entries]
    moments.append(Moment(anomaly.occurred_at, "occurred", f"It occurred: {anomaly.title}"))
    for piece in evidence:
        if piece.state == EvidenceState.HELD:
            moments += _read_moments_of(piece)
    return sorted(moments, key=lambda moment: (moment.at, moment.kind))


def _read_moments_of(evidence: Evidence) -> list[Moment]:
    moments = []
    if evidence.taken_at:
        moments.append(Moment(evidence.taken_at, "taken", f"{evidence.title}", evidence=evidence))
    if evidence.kind == Evidence.Kind.TELEMETRY:
        series = evidence.series
        spans = read_spans(series)[:MOST_SPANS_ON_TIMELINE]
        for span in spans:
            lasting = "to the end of the series" if span.is_open else f"for {write_duration(span.end - span.start)}"
            words = f"{evidence.title} {span.side} {write_value(span.limit)} {evidence.unit} {lasting}, "
            words += f"{write_value(span.extreme)} {evidence.unit} at {'most' if span.side == 'above' else 'least'}"
            moments.append(Moment(span.start, "span", words, evidence=evidence))
        more = series.spans_in_all - len(spans)
        if more > 0:
            words = f"{evidence.title}: {more:,} more spans out of limits after this; see {evidence.label}"
            moments.append(Moment(spans[-1].start, "span", words, evidence=evidence))
    return moments
