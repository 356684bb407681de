"""What is computed from a telemetry file once, so that pages needn't read it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, BinaryIO

from django.conf import settings

from anomalies.models import Evidence, TelemetrySeries
from anomalies.services.evidence_files import open_file
from anomalies.telemetry import Sample, find_spans, read_series, thin

MOST_SPANS = 2_000


def read_samples(evidence: Evidence) -> list[Sample]:
    """Return the samples of a stored file; raises BadSeries, and Refused if the file was changed."""
    with open_file(evidence) as file:
        return parse_samples(file)


def parse_samples(file: BinaryIO) -> list[Sample]:
    """Return the samples in a file; raises BadSeries."""
    return read_series(file.read(), epoch=settings.MISSION_EPOCH)


def write_series(evidence: Evidence, samples: Sequence[Sample]) -> TelemetrySeries:
    """The evidence has its series, computed from the samples and its limits."""
    values = [sample.value for sample in samples]
    spans = find_spans(samples, low=evidence.low, high=evidence.high)
    computed: dict[str, Any] = {
        "samples": len(samples),
        "start": samples[0].at,
        "end": samples[-1].at,
        "least": min(values),
        "greatest": max(values),
        "points": [[sample.at.isoformat(), sample.value] for sample in thin(samples)],
        "spans": [
            asdict(span) | {name: getattr(span, name).isoformat() for name in ("start", "end", "at")}
            for span in spans[:MOST_SPANS]
        ],
        "spans_in_all": len(spans),
    }
    series, _ = TelemetrySeries.objects.update_or_create(evidence=evidence, defaults=computed)
    return series
