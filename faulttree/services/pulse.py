"""The life sign of a worker that computes a run."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import structlog
from django.db import InterfaceError, OperationalError, connection
from django.utils import timezone

from faulttree.models import Run
from faulttree.states import RunState

BEAT_SECONDS = 0.4

AWAY = (OperationalError, InterfaceError)
"""What a database raises that is away, or has no room left."""

log = structlog.get_logger(__name__)


@dataclass
class Pulse:
    """The life sign of one attempt: writes progress at most every 0.4 s and learns whether to stop."""

    run_id: int
    attempt: int
    clock: Callable[[], float] = time.monotonic
    step: str = "Starting"
    share: float = 0.0
    must_stop: bool = False
    last: float = field(default=float("-inf"))

    def progress(self, step: str, share: float) -> None:
        """Take note of how far the run is."""
        self.step, self.share = step[:200], min(max(share, 0.0), 1.0)
        self.beat()

    def is_cancelled(self) -> bool:
        """Tell whether a person cancelled the run, or another worker has it."""
        self.beat()
        return self.must_stop

    def beat(self) -> None:
        """Write to the row if it is time to; a database that is away for a moment doesn't stop the run."""
        now = self.clock()
        if now - self.last < BEAT_SECONDS:
            return
        self.last = now
        mine = Run.objects.filter(pk=self.run_id, attempt=self.attempt, state=RunState.RUNNING)
        try:
            kept = mine.update(step=self.step, share=self.share, heartbeat_at=timezone.now())
            self.must_stop = not kept or mine.filter(cancel_requested=True).exists()
        except AWAY as error:
            log.warning("heartbeat_missed", run=self.run_id, error=str(error))
            connection.close_if_unusable_or_obsolete()
