"""A telemetry series as pages show it: the chart at two sizes, and its spans out of limits in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.utils.safestring import SafeString, mark_safe

from anomalies.charts.telemetry import LOW_NARROW, LOW_WIDE, NARROW, WIDE, Mark, Strip, draw_telemetry, make_letter
from anomalies.models import Evidence, TelemetrySeries, TimelineEntry
from anomalies.telemetry import Sample, Span, thin

MOST_SPANS = 100
POINTS_ON_DOSSIER = 300


@dataclass(frozen=True, slots=True)
class Chart:
    """The same chart for wide screens and for narrow ones; a page shows one of them."""

    wide: SafeString
    narrow: SafeString


@dataclass(frozen=True, slots=True)
class TelemetryView:
    """A series with its chart, the entries marked in it, its first spans, and how many more there are."""

    series: TelemetrySeries
    chart: Chart
    marks: tuple[Mark, ...]
    spans: tuple[Span, ...]
    more_spans: int


def read_telemetry(evidence: Evidence, entries: Iterable[TimelineEntry], *, is_small: bool = False) -> TelemetryView:
    """Return the series of a piece of telemetry, with the standing entries of the timeline that fall into it."""
    series = evidence.series
    spans = read_spans(series)
    marks = tuple(mark_entries(entries, series.start, series.end))
    samples = [Sample(datetime.fromisoformat(at), value) for at, value in series.points]
    if is_small:
        samples = thin(samples, POINTS_ON_DOSSIER)
    strip = Strip(
        evidence.title,
        evidence.unit,
        samples,
        evidence.low,
        evidence.high,
        spans,
        marks,
        settings.MISSION_EPOCH,
        series.spans_in_all,
    )
    wide, narrow = (LOW_WIDE, LOW_NARROW) if is_small else (WIDE, NARROW)
    chart = Chart(_mark_as_markup(draw_telemetry(strip, wide)), _mark_as_markup(draw_telemetry(strip, narrow)))
    return TelemetryView(series, chart, marks, tuple(spans[:MOST_SPANS]), max(series.spans_in_all - MOST_SPANS, 0))


def read_spans(series: TelemetrySeries) -> list[Span]:
    """Return the spans out of limits as they were computed when the file was added or its limits changed."""
    moments = ("start", "end", "at")
    return [Span(**span | {name: datetime.fromisoformat(span[name]) for name in moments}) for span in series.spans]


def mark_entries(entries: Iterable[TimelineEntry], start: datetime, end: datetime) -> Sequence[Mark]:
    """Return the entries from start to end, each with its letter, in the order of time."""
    inside = [entry for entry in entries if start <= entry.at <= end]
    return [Mark(make_letter(number), entry.at, entry.text) for number, entry in enumerate(inside)]


def write_duration(length: timedelta) -> str:
    """Return a length of time in its two or three largest units, to the second; to the millisecond below a minute."""
    seconds = length.total_seconds()
    if seconds < 60:
        return f"{seconds:.3f}".rstrip("0").rstrip(".") + " s"
    whole = round(seconds)
    days, hours, minutes = whole // 86_400, whole // 3600 % 24, whole // 60 % 60
    units = [(days, "d"), (hours, "h"), (minutes, "min"), (whole % 60, "s")]
    return " ".join(f"{count} {unit}" for count, unit in units if count)


def _mark_as_markup(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308  every word in it went through config.kit.markup
