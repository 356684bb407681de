"""What a service raises when it won't do what was asked; every message is a whole sentence for people.

`code` is stable and for machines. `fields` maps a field of the input to its own messages.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar


class DomainError(Exception):
    """Base class; `status` is the HTTP status a page or the API answers with."""

    status: ClassVar[int] = 409
    default_code: ClassVar[str] = "refused"

    def __init__(
        self, message: str, *, code: str | None = None, fields: Mapping[str, Sequence[str]] | None = None
    ) -> None:
        self.message = message
        self.code = code or self.default_code
        self.fields = {name: list(messages) for name, messages in (fields or {}).items()}
        super().__init__(message)

    def as_dict(self) -> dict[str, Any]:
        """Return the one shape in which every error leaves the service as JSON."""
        return {"code": self.code, "message": self.message, "fields": self.fields}


class BadInput(DomainError):
    """What was sent can't be used; nothing was changed."""

    status = 422
    default_code = "bad_input"


class NotAllowed(DomainError):
    """The actor may not do this to this record."""

    status = 403
    default_code = "not_allowed"


class WrongState(DomainError):
    """The record isn't in a state from which this move can be made."""

    default_code = "wrong_state"


class Refused(DomainError):
    """A rule that spans records forbids this at the moment."""


class Conflict(DomainError):
    """Somebody else changed the record in the meantime."""

    default_code = "conflict"
