"""Files that are made on request: saved under a good name, and never run by a browser as a page of ours."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.text import slugify

LONGEST = 60


def name_file(words: str, instead: str) -> str:
    """Return words as the start of a file name that every system takes; `instead` where nothing is left of them."""
    return slugify(words)[:LONGEST].strip("-_") or instead


def send_download(content: bytes, *, name: str, media_type: str) -> HttpResponse:
    """Return the content as a file to save; `name` is made of letters, digits, dots and dashes."""
    response = HttpResponse(content, content_type=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'; style-src 'unsafe-inline'"
    return response
