"""Doors for workers: an id in, one service called. Each may run twice without harm."""

from __future__ import annotations

from celery import shared_task

from faulttree.queue import EXECUTE_RUN, HELP_RUN, SWEEP_RUNS
from faulttree.services.execution import execute_run
from faulttree.services.parts import help_run
from faulttree.services.sweeping import requeue_lost_runs


@shared_task(name=EXECUTE_RUN)
def execute(run_id: int) -> None:
    """Compute one run."""
    execute_run(run_id=run_id)


@shared_task(name=HELP_RUN)
def take_part(run_id: int) -> None:
    """Compute parts of a run that another worker has."""
    help_run(run_id=run_id)


@shared_task(name=SWEEP_RUNS)
def sweep() -> None:
    """Put back what dead workers left."""
    requeue_lost_runs()
