"""The sweeper: no run stays for ever with a dead worker, and no message that was lost is waited for in vain."""

from __future__ import annotations

from datetime import datetime, timedelta

import structlog
from django.utils import timezone

from faulttree.models import Run
from faulttree.queue import enqueue_run
from faulttree.services.workers import is_known_dead
from faulttree.states import RUN

SILENT_AFTER = timedelta(seconds=90)
"""A worker that has not been heard of for so long is taken for dead, on whatever host it was."""

SEND_AGAIN_AFTER = timedelta(seconds=30)
"""A run that waits for so long has its message sent again: twice does no harm."""

MAX_ATTEMPTS = 3

log = structlog.get_logger(__name__)


def requeue_lost_runs(*, now: datetime | None = None) -> int:
    """Give runs of dead workers to the next one and send lost messages again; the number of runs taken back.

    A run whose worker died three times is failed: it would kill the next one too.
    """
    now = now or timezone.now()
    lost = [run for run in Run.objects.running().without_result() if _is_lost(run, now)]
    taken = sum(_take_back(run, now) for run in lost)
    waiting = list(Run.objects.waiting_and_sent_before(now - SEND_AGAIN_AFTER).values_list("pk", flat=True))
    for run_id in waiting:
        enqueue_run(run_id)
    Run.objects.filter(pk__in=waiting).update(sent_at=now)
    return taken


def _is_lost(run: Run, now: datetime) -> bool:
    is_silent = run.heartbeat_at is None or now - run.heartbeat_at > SILENT_AFTER
    return is_silent or is_known_dead(run.worker)


def _take_back(run: Run, now: datetime) -> bool:
    mine = Run.objects.filter(pk=run.pk, attempt=run.attempt, state=run.state)
    if run.cancel_requested:
        taken = mine.update(state=RUN.move("cancel", run.state).target, finished_at=now)
    elif run.attempt >= MAX_ATTEMPTS:
        message = f"Its worker ended {run.attempt} times while computing it. Lower the budget of nodes or seconds."
        error = {"code": "worker_lost", "message": message, "problems": []}
        taken = mine.update(state=RUN.move("fail", run.state).target, finished_at=now, error=error)
    else:
        taken = mine.update(state=RUN.move("requeue", run.state).target, queued_at=now, sent_at=now, step="", share=0.0)
        if taken:
            enqueue_run(run.pk)
    if taken:
        log.warning("run_taken_back", run=run.pk, worker=run.worker, attempt=run.attempt)
    return bool(taken)
