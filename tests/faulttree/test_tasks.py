"""The doors for workers."""

from __future__ import annotations

import pytest

from faulttree import tasks
from faulttree.models import Run
from tests.faulttree.people import make_engineer, make_revision, make_run

pytestmark = pytest.mark.django_db


def test_a_task_computes_its_run_once_however_often_it_is_sent():
    engineer = make_engineer()
    run = make_run(engineer, make_revision(engineer))
    tasks.execute(run.pk)
    tasks.execute(run.pk)
    run.refresh_from_db()
    assert (run.state, run.attempt) == ("done", 1)


def test_the_sweep_gives_back_what_a_dead_worker_had():
    engineer = make_engineer()
    run = make_run(engineer, make_revision(engineer))
    Run.objects.filter(pk=run.pk).update(state="running", attempt=1, worker="elsewhere:1:1", heartbeat_at=None)
    tasks.sweep()
    run.refresh_from_db()
    assert run.state == "queued"
