"""What is computed from a telemetry file once, so that pages needn't read it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, BinaryIO

from django.conf import settings

from anomalies.models import Evidence, TelemetrySeries
from anomalies.services.evidence_files import open_file
from anomalies.telemetry import Sample, find_spans, read_series, thin
from config.kit.errors import BadInput

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
    computed = compute_series(evidence, samples)
    series, _ = TelemetrySeries.objects.update_or_create(evidence=evidence, defaults=computed)
    return series


def compute_series(evidence: Evidence, samples: Sequence[Sample]) -> dict[str, Any]:
    """Return the columns of the series of a piece of evidence."""
    values = [sample.value for sample in samples]
    spans = find_spans(samples, low=evidence.low, high=evidence.high)
    return {
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


def find_series_fault(evidence: Evidence) -> str:
    """Return what is wrong with the stored series of a telemetry file that is as it was; empty if nothing is.

    What pages draw is computed anew from the file, so that a span can't be hidden behind the service.
    """
    series = TelemetrySeries.objects.filter(evidence=evidence).first()
    if series is None:
        return "Its telemetry series is gone."
    try:
        computed = compute_series(evidence, read_samples(evidence))
    except BadInput as error:
        return f"Its file can't be read as telemetry any more: {error.message}"
    different = ", ".join(name for name, value in computed.items() if getattr(series, name) != value)
    return f"Its telemetry series isn't what its file gives; different: {different}." if different else ""
