"""Files as they come, and the model that is written in one."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from django.conf import settings

from config.kit.errors import BadInput
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.plain_json import read_json
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import Model


class UnreadableModel(BadInput):
    """A model that was refused; `problems` says where, what and how to mend it."""

    default_code = "bad_model"

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        count = len(problems)
        what = "a problem" if count == 1 else f"{count} problems"
        super().__init__(
            f"The file was refused: {what} must be mended first. Nothing was changed.",
            fields={"file": [str(problem) for problem in problems]},
        )


def read_source(source: bytes, *, file: str = "") -> Model:
    """Return the model in exchange XML; raises UnreadableModel."""
    try:
        return read_open_psa(source, file=file, limits=_limits())
    except BadModel as refused:
        raise UnreadableModel(refused.problems) from None


def is_plain_json(source: bytes, file: str) -> bool:
    """Tell whether a file that came is plain JSON: by its name, or by how it begins."""
    return file.lower().endswith(".json") or source.lstrip(b"\xef\xbb\xbf \t\r\n").startswith((b"{", b"["))


def convert_plain_json(source: bytes, *, file: str = "") -> bytes:
    """Return a model in plain JSON as exchange XML; raises UnreadableModel, also for what XML can't say."""
    try:
        return write_open_psa(read_json(source, file=file, limits=_limits()))
    except BadModel as refused:
        raise UnreadableModel(refused.problems) from None


def read_own_model(revision: Any) -> Model:
    """Return what a revision's file says, transfers and shared values as it has them; read once while it is in use."""
    return _read_frozen(revision.sha256, bytes(revision.source), revision.file_name)


@lru_cache(maxsize=16)
def _read_frozen(sha256: str, source: bytes, file: str) -> Model:
    return read_source(source, file=file)


def _limits() -> ReadLimits:
    return ReadLimits(settings.MODEL_MAX_BYTES, settings.MODEL_MAX_DEPTH, settings.MODEL_MAX_ELEMENTS)
