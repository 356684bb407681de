"""How templates write measured values, lengths of time and types of files."""

from __future__ import annotations

from django import template

from anomalies.charts.telemetry import write_value
from anomalies.file_types import WORDS
from anomalies.models import Evidence
from anomalies.reads.telemetry import write_duration
from anomalies.telemetry import Span

register = template.Library()


@register.filter
def measured(value: float | None) -> str:
    """Write a measured value; a dash for none."""
    return "–" if value is None else write_value(value)


@register.filter
def lasted(span: Span) -> str:
    """Write how long a span lasted, from its first sample to its last."""
    return write_duration(span.end - span.start) if span.samples > 1 else "one sample"


@register.filter
def file_words(evidence: Evidence) -> str:
    """Write what the file is by its content."""
    return WORDS.get(evidence.media_type, evidence.media_type)
