"""The sweeper."""

from __future__ import annotations

import subprocess
import sys
from datetime import timedelta

import pytest
from django.utils import timezone

from faulttree.models import Run
from faulttree.services.execution import claim_run, execute_run
from faulttree.services.sweeping import MAX_ATTEMPTS, SEND_AGAIN_AFTER, SILENT_AFTER, requeue_lost_runs
from faulttree.services.workers import is_known_dead, name_worker
from tests.faulttree.people import make_engineer, make_revision, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def run():
    engineer = make_engineer()
    run = make_run(engineer, make_revision(engineer))
    claim_run(run_id=run.pk)
    run.refresh_from_db()
    return run


def test_a_living_worker_keeps_its_run(run):
    assert requeue_lost_runs() == 0
    run.refresh_from_db()
    assert run.state == "running"


def test_a_run_of_a_silent_worker_goes_to_the_next_one(run, sent, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        assert requeue_lost_runs(now=timezone.now() + SILENT_AFTER + timedelta(seconds=1)) == 1
    run.refresh_from_db()
    assert (run.state, sent) == ("queued", [run.pk])
    assert execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.attempt, run.was_restarted) == ("done", 2, True)


def test_a_run_of_a_process_that_ended_is_taken_back_at_once(run):
    Run.objects.filter(pk=run.pk).update(worker=name_of_a_process_that_ended())
    assert requeue_lost_runs() == 1


def test_a_cancelled_run_of_a_dead_worker_is_cancelled(run):
    Run.objects.filter(pk=run.pk).update(worker=name_of_a_process_that_ended(), cancel_requested=True)
    requeue_lost_runs()
    run.refresh_from_db()
    assert run.state == "cancelled"


def test_a_run_that_kills_every_worker_fails_in_the_end(run):
    Run.objects.filter(pk=run.pk).update(worker=name_of_a_process_that_ended(), attempt=MAX_ATTEMPTS)
    requeue_lost_runs()
    run.refresh_from_db()
    assert (run.state, run.error["code"]) == ("failed", "worker_lost")


def test_a_lost_message_is_sent_again_and_not_at_every_sweep(sent, django_capture_on_commit_callbacks):
    engineer = make_engineer()
    run = make_run(engineer, make_revision(engineer))
    later = timezone.now() + SEND_AGAIN_AFTER + timedelta(seconds=1)
    with django_capture_on_commit_callbacks(execute=True):
        requeue_lost_runs(now=later)
        requeue_lost_runs(now=later + timedelta(seconds=1))
    assert sent == [run.pk]


def test_a_worker_elsewhere_is_never_taken_for_dead_by_its_number():
    host, pid, started = name_worker().rsplit(":", 2)
    assert not is_known_dead(name_worker())
    assert not is_known_dead(f"another-{host}:{pid}:1")
    assert is_known_dead(f"{host}:{pid}:{int(started) + 1}")


def name_of_a_process_that_ended() -> str:
    """The name of a worker that is really gone."""
    script = "from faulttree.services.workers import name_worker; print(name_worker())"
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.strip()


DEAD, ALIVE, ELSEWHERE = "dead", "alive", "elsewhere"


@pytest.mark.parametrize("attempt", [0, 1, 2, 3])
@pytest.mark.parametrize("cancelled", [False, True])
@pytest.mark.parametrize("worker", [DEAD, ALIVE, ELSEWHERE, ""])
@pytest.mark.parametrize("state", ["queued", "running"])
def test_no_run_is_stuck_for_ever(run, sent, django_capture_on_commit_callbacks, state, worker, cancelled, attempt):
    """Wherever a run was left, sweeps alone bring it to an end or to a worker: its message goes out again."""
    names = {DEAD: name_of_a_process_that_ended(), ALIVE: name_worker(), ELSEWHERE: "other-host:1:1", "": ""}
    left = timezone.now()
    Run.objects.filter(pk=run.pk).update(
        state=state,
        worker=names[worker],
        cancel_requested=cancelled and state == "running",
        attempt=attempt,
        heartbeat_at=left,
        sent_at=left,
        sent_problem="It can't be reached." if worker == "" else "",
    )
    for minute in range(1, 5):
        with django_capture_on_commit_callbacks(execute=True):
            requeue_lost_runs(now=left + timedelta(minutes=minute))
    run.refresh_from_db()
    if run.state == "queued":
        assert run.pk in sent
        assert execute_run(run_id=run.pk)
        run.refresh_from_db()
    assert run.state in ("done", "failed", "cancelled")
