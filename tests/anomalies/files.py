"""Files for tests of evidence."""

from __future__ import annotations

from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from anomalies.models import Anomaly, Evidence
from anomalies.services.evidence import add_evidence
from tests.anomalies.people import make_open, recorder

PNG = b"\x89PNG\r\n\x1a\n" + bytes(range(32))
PDF = b"%PDF-1.7 a report"
SERIES = b"time,value\n2024-03-05T09:00:00Z,20\n2024-03-05T09:01:00Z,31\n2024-03-05T09:02:00Z,22\n"


def upload(data: bytes = PNG, name: str = "photo.png") -> SimpleUploadedFile:
    """A file as a browser sends it."""
    return SimpleUploadedFile(name, data)


def make_evidence(anomaly: Anomaly | None = None, **changes: Any) -> Evidence:
    """A statement about an open anomaly, or whatever the changes make of it."""
    given = {"kind": "statement", "title": "What EV2 saw", "statement": "Frost at the coupling.", "stated_by": "EV2"}
    return add_evidence(anomaly_id=(anomaly or make_open()).pk, actor=recorder(), **given | changes)


def make_photograph(anomaly: Anomaly | None = None, data: bytes = PNG, name: str = "photo.png") -> Evidence:
    """A photograph of an open anomaly."""
    plain = {"statement": "", "stated_by": ""}
    return make_evidence(anomaly, kind="photograph", title="The coupling", file=upload(data, name), **plain)
