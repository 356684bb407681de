"""How a file of evidence leaves the service: typed by what it is, and never as something a browser would run."""

from __future__ import annotations

from typing import BinaryIO

from django.http import FileResponse

from anomalies.file_types import TEXT
from anomalies.models import Evidence


def send_file(evidence: Evidence, file: BinaryIO, *, is_shown: bool = False) -> FileResponse:
    """Return the file for saving; a picture may be shown instead, nothing else may, whatever was asked."""
    media_type = f"{TEXT}; charset=utf-8" if evidence.media_type == TEXT else evidence.media_type
    shown = is_shown and evidence.is_picture
    response = FileResponse(file, as_attachment=not shown, filename=evidence.file_name, content_type=media_type)
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'; frame-ancestors 'none'"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers["Cache-Control"] = "private, no-store"  # each opening is asked of the service, and recorded
    return response
