"""Names of the Celery tasks, and the one way to send them: after the transaction, by name."""

from __future__ import annotations

import structlog
from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

from faulttree.models import Run

EXECUTE_RUN = "faulttree.execute_run"
HELP_RUN = "faulttree.help_run"
SWEEP_RUNS = "faulttree.sweep_runs"

HELP_EXPIRES = 600.0
"""Seconds after which nobody need help any more."""

BROKER_AWAY = "The queue of the workers can't be reached. The run waits and is sent again by itself."

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
        Run.objects.filter(pk=run_id).update(sent_problem=BROKER_AWAY)
    else:
        Run.objects.filter(pk=run_id).exclude(sent_problem="").update(sent_problem="")


def enqueue_parts(run_id: int, helpers: int) -> None:
    """Ask so many workers to help with a run; that the broker is away only means that nobody helps."""
    for _ in range(helpers):
        try:
            current_app.send_task(HELP_RUN, [run_id], retry=False, expires=HELP_EXPIRES)
        except (OperationalError, OSError) as error:
            log.warning("broker_away", run=run_id, error=str(error))
            return
