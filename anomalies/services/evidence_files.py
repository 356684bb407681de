"""Files of evidence: kept under their SHA-256, so that what was hashed at upload is what is handed out.

A file is written aside, hashed on the way, looked at, and moved into place once nothing speaks against it; the same
bytes are kept once. It is stored before the transaction that records it: one that is refused afterwards leaves an
unreferenced file behind, never a record without its file.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import time
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import BinaryIO, Protocol

from django.conf import settings

from anomalies.file_types import WORDS, find_file_type, names_another_type
from anomalies.models import Evidence
from config.env import make_private_folder
from config.kit.errors import BadInput, Refused

LONGEST_NAME = 255
CHUNK = 1 << 20
DRAFT, DRAFT_SECONDS = "draft-", 86_400
CHANGED = "The stored file isn't the one that was added: its SHA-256 differs."
MISSING = "The file isn't in the store, or can't be read."


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


def store_file(
    upload: Upload,
    *,
    types: Collection[str] | None = None,
    expected: str = "another file",
    read: Callable[[BinaryIO], None] | None = None,
) -> StoredFile:
    """The file is in the store, and stays there through a loss of power.

    Raises BadInput on `file` if it's empty, too large, named like another type, or by its content none of `types`;
    `expected` says in words which these are. `read` is shown the content, and may refuse it too. Nothing of a file that
    is refused stays behind.
    """
    name = clean_name(upload.name or "")
    folder = make_private_folder(Path(settings.EVIDENCE_DIR))
    _sweep_drafts(folder)
    descriptor, draft = tempfile.mkstemp(dir=folder, prefix=DRAFT)
    try:
        with os.fdopen(descriptor, "wb") as file:
            size, sha256 = _copy(name, upload.chunks(), file)
            file.flush()
            os.fsync(file.fileno())
        media_type = find_file_type(_read(Path(draft)))
        _check_type(name, media_type, types, expected)
        if read is not None:
            with Path(draft).open("rb") as content:
                read(content)
        _move(Path(draft), path_of(sha256))
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    return StoredFile(name, media_type, size, sha256)


def _sweep_drafts(folder: Path) -> None:
    """What a process that was killed left half written, more than a day ago, is gone."""
    for draft in folder.glob(f"{DRAFT}*"):
        with suppress(FileNotFoundError):  # somebody else sweeps too
            if time.time() - draft.stat().st_mtime > DRAFT_SECONDS:
                draft.unlink()


def _copy(name: str, pieces: Iterable[bytes], file: BinaryIO) -> tuple[int, str]:
    size, digest, most = 0, hashlib.sha256(), int(settings.EVIDENCE_MAX_BYTES)
    for piece in pieces:
        size += len(piece)
        if size > most:
            raise _refuse(f"“{name}” is larger than {most / 2**20:g} MiB, the limit of this installation.")
        digest.update(piece)
        file.write(piece)
    if not size:
        raise _refuse(f"“{name}” is empty.")
    return size, digest.hexdigest()


def _check_type(name: str, media_type: str, types: Collection[str] | None, expected: str) -> None:
    if types is not None and media_type not in types:
        raise _refuse(f"By its content “{name}” is {WORDS[media_type]}. Choose {expected}.")
    if names_another_type(name, media_type):
        raise _refuse(f"“{name}” is named like another type: by its content it is {WORDS[media_type]}. Rename it.")


def _move(draft: Path, place: Path) -> None:
    make_private_folder(place.parent)
    draft.chmod(0o400)
    draft.replace(place)
    folder = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def open_file(evidence: Evidence) -> BinaryIO:
    """Return the file, opened, once its bytes have been hashed again; raises Refused if it's gone or was changed."""
    fault = MISSING
    with suppress(OSError):
        file = path_of(evidence.sha256).open("rb")
        if _hash(file) == evidence.sha256:
            file.seek(0)
            return file
        file.close()
        fault = CHANGED
    raise Refused(f"{fault} Run verify_ledger, and look at the backups.", code="file_changed")


def find_file_fault(evidence: Evidence) -> str:
    """Return what is wrong with the stored file of a piece of evidence; empty if nothing is."""
    try:
        with path_of(evidence.sha256).open("rb") as file:
            return "" if _hash(file) == evidence.sha256 else CHANGED
    except OSError:
        return MISSING


def _hash(file: BinaryIO) -> str:
    digest = hashlib.sha256()
    while piece := file.read(CHUNK):
        digest.update(piece)
    return digest.hexdigest()


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
