"""The life of a run, on one screen: buttons, API and tests read it from here."""

from __future__ import annotations

from django.db.models import TextChoices

from config.kit.transitions import Machine, Move


class RunState(TextChoices):
    """Where a run stands, in words a person reads."""

    QUEUED = "queued", "Waiting for a worker"
    RUNNING = "running", "Computing"
    DONE = "done", "Done"
    FAILED = "failed", "Failed"
    CANCELLED = "cancelled", "Cancelled"


S = RunState

RUN = Machine(
    Move("claim", S.QUEUED, S.RUNNING),
    Move("finish", S.RUNNING, S.DONE),
    Move("fail", S.RUNNING, S.FAILED),
    Move("fail", S.QUEUED, S.FAILED),
    Move("cancel", S.QUEUED, S.CANCELLED),
    Move("cancel", S.RUNNING, S.CANCELLED),
    Move("requeue", S.RUNNING, S.QUEUED),
    Move("repeat", S.FAILED, S.QUEUED),
    Move("repeat", S.CANCELLED, S.QUEUED),
)

ACTIVE = (S.QUEUED, S.RUNNING)
"""States in which somebody waits for the answer."""
