"""What time it is for the records.

Services ask `now()` and nothing else, so that a demonstration can be set in the past: its ledger then reads as it would
have been kept. Only the demonstration and tests may pretend; tests/test_architecture.py holds that.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.utils import timezone

_pretended: ContextVar[datetime | None] = ContextVar("pretended", default=None)


def now() -> datetime:
    """Return the moment it is, in UTC."""
    return _pretended.get() or timezone.now()


@contextmanager
def pretending(at: datetime) -> Iterator[None]:
    """Let it be that moment inside the block, in this thread or task only."""
    token = _pretended.set(at)
    try:
        yield
    finally:
        _pretended.reset(token)
