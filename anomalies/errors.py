"""Refusals that carry more than a message."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from config.kit.errors import Conflict, Refused


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that is missing: a whole sentence, the record to look at, and the place on its page if there's one."""

    text: str
    kind: str
    record_id: int
    place: str = ""


class Missing(Refused):
    """Something must be done first; `gaps` says what, each with its record."""

    default_code = "missing"

    def __init__(
        self,
        message: str,
        gaps: Sequence[Gap],
        *,
        code: str | None = None,
        fields: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        self.gaps = tuple(gaps)
        super().__init__(message, code=code, fields=fields)

    def as_dict(self) -> dict[str, Any]:
        """Return the usual shape of an error, and what is missing."""
        return super().as_dict() | {"missing": [asdict(gap) for gap in self.gaps]}


class EditConflict(Conflict):
    """Somebody changed the record since the editor read it; both versions come along, so that they can be merged.

    seen, version   the version the editor started from, and the one the record has now
    theirs          field -> {"before": then, "after": now} for all that changed in between
    yours           field -> the value the editor sent
    """

    def __init__(
        self, *, seen: int, version: int, theirs: Mapping[str, Mapping[str, Any]], yours: Mapping[str, Any]
    ) -> None:
        self.seen, self.version = seen, version
        self.theirs = {name: dict(values) for name, values in theirs.items()}
        self.yours = dict(yours)
        message = "Somebody else changed this in the meantime; nothing of yours was saved. Compare, then save again."
        clash = "This was changed to another value in the meantime."
        super().__init__(message, code="edit_conflict", fields={name: [clash] for name in self.clashes})

    @property
    def clashes(self) -> tuple[str, ...]:
        """Fields that both changed, to different values."""
        return tuple(
            name for name, value in self.yours.items() if name in self.theirs and self.theirs[name]["after"] != value
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the usual shape of an error, and both versions."""
        both = {"seen": self.seen, "version": self.version, "theirs": self.theirs, "yours": self.yours}
        return super().as_dict() | both
