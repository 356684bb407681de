"""Names of the Celery tasks, and the one way to send them: after the transaction, by name."""

from __future__ import annotations

import structlog
from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

EXECUTE_RUN = "faulttree.execute_run"
SWEEP_RUNS = "faulttree.sweep_runs"

log = structlog.get_logger(__name__)


def enqueue_run(run_id: int) -> None:
    """Tell a worker of the run once the transaction is through.

    The message may be lost or sent twice: the row is what counts, and the sweeper sends again.
    """
    transaction.on_commit(lambda: _send(run_id))


def _send(run_id: int) -> None:
    try:
        current_app.send_task(EXECUTE_RUN, [run_id], retry=False)
    except (OperationalError, OSError) as error:
        log.warning("broker_away", run=run_id, error=str(error))
