"""What a file is, by what it holds and never by its name; and whether a page may show it.

Signatures, from memory: PNG (W3C PNG specification, file signature), JPEG (ITU-T T.81, markers), GIF (GIF87a and
GIF89a specifications, header), WebP (RFC 9649, file header), PDF (ISO 32000-1, file header).
"""

from __future__ import annotations

from codecs import getincrementaldecoder
from collections.abc import Iterable
from itertools import chain
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
WORDS = {
    "image/png": "a PNG picture",
    "image/jpeg": "a JPEG picture",
    "image/gif": "a GIF picture",
    "image/webp": "a WebP picture",
    "application/pdf": "a PDF document",
    TEXT: "text in UTF-8",
    UNKNOWN: "of no type that is known here",
}
CONTROLS = bytes(sorted({*range(32), 127} - {9, 10, 12, 13}))
"""Bytes that text doesn't hold: all control characters but tab, new line, new page and return."""
LONGEST_SIGNATURE = 12


def find_file_type(pieces: Iterable[bytes]) -> str:
    """Return the media type of a file from its whole content, given in pieces: one of SUFFIXES, TEXT or UNKNOWN."""
    rest = iter(pieces)
    head = b""
    while len(head) < LONGEST_SIGNATURE and (piece := next(rest, b"")):
        head += piece
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if head.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if head.startswith((b"GIF87a", b"GIF89a")):
        return "image/gif"
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "image/webp"
    if head.startswith(b"%PDF-"):
        return "application/pdf"
    return TEXT if is_text(chain([head], rest)) else UNKNOWN


def is_text(pieces: Iterable[bytes]) -> bool:
    """Tell whether the bytes are UTF-8 text without control characters; no bytes are no text."""
    decoder = getincrementaldecoder("utf-8")()
    size = 0
    try:
        for piece in pieces:
            size += len(piece)
            if len(piece.translate(None, CONTROLS)) != len(piece):
                return False
            decoder.decode(piece)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return size > 0


def names_another_type(name: str, media_type: str) -> bool:
    """Tell whether a file of this type is named like one of another type, as `photo.png` for a PDF."""
    suffix = PurePath(name).suffix.lower()
    owners = {owner for owner, suffixes in SUFFIXES.items() if suffix in suffixes}
    return bool(owners) and media_type not in owners
