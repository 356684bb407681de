"""What a file is, by what it holds and never by its name; and whether a page may show it.

Signatures, from memory: PNG (W3C PNG specification, file signature), JPEG (ITU-T T.81, markers), GIF (GIF87a and
GIF89a specifications, header), WebP (RFC 9649, file header), PDF (ISO 32000-1, file header).
"""

from __future__ import annotations

from pathlib import PurePath

UNKNOWN = "application/octet-stream"
TEXT = "text/plain"
PICTURES = frozenset({"image/png", "image/jpeg", "image/gif", "image/webp"})
"""Types a page may show. SVG isn't among them: it can hold a script, and is plain text here, as HTML and XML are."""

SUFFIXES = {
    "image/png": (".png",),
    "image/jpeg": (".jpg", ".jpeg"),
    "image/gif": (".gif",),
    "image/webp": (".webp",),
    "application/pdf": (".pdf",),
}
CONTROLS = frozenset(range(32)) - {9, 10, 12, 13}
"""Bytes that text doesn't hold: all control characters but tab, new line, new page and return."""


def find_file_type(data: bytes) -> str:
    """Return the media type of a file from its whole content: one of SUFFIXES, TEXT or UNKNOWN."""
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if data.startswith((b"GIF87a", b"GIF89a")):
        return "image/gif"
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        return "image/webp"
    if data.startswith(b"%PDF-"):
        return "application/pdf"
    return TEXT if is_text(data) else UNKNOWN


def is_text(data: bytes) -> bool:
    """Tell whether the bytes are UTF-8 text without control characters; no bytes are no text."""
    if not data or not CONTROLS.isdisjoint(data):
        return False
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def names_another_type(name: str, media_type: str) -> bool:
    """Tell whether a file of this type is named like one of another type, as `photo.png` for a PDF."""
    suffix = PurePath(name).suffix.lower()
    owners = {owner for owner, suffixes in SUFFIXES.items() if suffix in suffixes}
    return bool(owners) and media_type not in owners
