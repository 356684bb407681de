"""Files of evidence: kept under their SHA-256, so that what was hashed at upload is what is handed out.

A file is written aside, hashed on the way, and linked into place; the same bytes are kept once. It is stored before the
transaction that records it: one that is refused afterwards leaves an unreferenced file behind, never a record without
its file.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import BinaryIO, Protocol

from django.conf import settings

from anomalies.file_types import find_file_type, names_another_type
from anomalies.models import Evidence
from config.env import make_private_folder
from config.kit.errors import BadInput, Refused

LONGEST_NAME = 255
CHUNK = 1 << 20


class Upload(Protocol):
    """What a door hands over: a name, and bytes in pieces."""

    name: str | None

    def chunks(self) -> Iterable[bytes]:
        """Yield the bytes."""


@dataclass(frozen=True, slots=True)
class StoredFile:
    """A file in the store; the media type is by its content."""

    name: str
    media_type: str
    size: int
    sha256: str


def store_file(upload: Upload) -> StoredFile:
    """The file is in the store; raises BadInput on `file` if it's empty, too large, or named like another type."""
    name = clean_name(upload.name or "")
    descriptor, draft = tempfile.mkstemp(dir=make_private_folder(Path(settings.EVIDENCE_DIR)), prefix="draft-")
    try:
        with os.fdopen(descriptor, "wb") as file:
            size, sha256 = _copy(upload.chunks(), file)
        media_type = find_file_type(Path(draft).read_bytes())
        if names_another_type(name, media_type):
            raise _refuse(f"“{name}” is named like another type: by its content it is {media_type}. Rename it.")
        place = path_of(sha256)
        make_private_folder(place.parent)
        os.chmod(draft, 0o400)
        os.replace(draft, place)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    return StoredFile(name, media_type, size, sha256)


def _copy(pieces: Iterable[bytes], file: BinaryIO) -> tuple[int, str]:
    size, digest, most = 0, hashlib.sha256(), int(settings.EVIDENCE_MAX_BYTES)
    for piece in pieces:
        size += len(piece)
        if size > most:
            raise _refuse(f"The file is larger than {most / 2**20:g} MiB, the limit of this installation.")
        digest.update(piece)
        file.write(piece)
    if not size:
        raise _refuse("The file is empty.")
    return size, digest.hexdigest()


def open_file(evidence: Evidence) -> BinaryIO:
    """Return the file, opened, once its bytes have been hashed again; raises Refused if it's gone or was changed."""
    fault = find_file_fault(evidence)
    if fault:
        raise Refused(f"{fault} Run verify_ledger, and look at the backups.", code="file_changed")
    return path_of(evidence.sha256).open("rb")


def find_file_fault(evidence: Evidence) -> str:
    """Return what is wrong with the stored file of a piece of evidence; empty if nothing is."""
    path = path_of(evidence.sha256)
    try:
        digest = hashlib.sha256()
        for piece in _read(path):
            digest.update(piece)
    except OSError:
        return f"The file of {evidence.label} isn't in the store."
    if digest.hexdigest() != evidence.sha256:
        return f"The file of {evidence.label} isn't the one that was added: its SHA-256 differs."
    return ""


def _read(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(CHUNK):
            yield piece


def path_of(sha256: str) -> Path:
    """Return where the file with this hash is kept."""
    return Path(settings.EVIDENCE_DIR) / sha256[:2] / sha256


def clean_name(name: str) -> str:
    """Return the last part of a file's name without control characters; it's only shown and offered for saving."""
    last = PurePath(name.replace("\\", "/")).name
    last = "".join(sign for sign in last if sign.isprintable()).strip(". ")
    return last[-LONGEST_NAME:] or "unnamed"


def _refuse(message: str) -> BadInput:
    return BadInput(message, code="bad_file", fields={"file": [message]})
