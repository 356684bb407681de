"""What a worker does with a run."""

from __future__ import annotations

import time

import pytest
from django.db import OperationalError
from django.utils import timezone

from faulttree.engine.errors import LimitReached
from faulttree.models import Run
from faulttree.models.run import RunQuerySet
from faulttree.services import execution
from faulttree.services.execution import claim_run, execute_run
from faulttree.services.pulse import Pulse
from faulttree.services.runs import cancel_run
from tests.faulttree.people import PUMPS_PROBABILITY, make_done_run, make_engineer, make_revision, make_run

pytestmark = pytest.mark.django_db


@pytest.fixture
def run():
    engineer = make_engineer()
    return make_run(engineer, make_revision(engineer))


def test_the_answer_is_stored_with_its_headline(run):
    assert execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert run.state == "done"
    assert run.result["method"] == run.headline["method"] == "exact"
    assert run.result["probability"] == pytest.approx(PUMPS_PROBABILITY, rel=1e-14)
    assert run.headline["cut_sets"] == 2
    assert run.started_at <= run.finished_at


def test_a_second_message_for_the_same_run_does_nothing(run):
    assert execute_run(run_id=run.pk)
    finished = Run.objects.get(pk=run.pk).finished_at
    assert not execute_run(run_id=run.pk)
    assert Run.objects.get(pk=run.pk).finished_at == finished


def test_only_one_worker_gets_a_run(run):
    assert claim_run(run_id=run.pk) == 1
    assert claim_run(run_id=run.pk) is None


def test_counts_beyond_double_precision_survive_the_database():
    engineer = make_engineer()
    gates = "".join(
        f'<define-gate name="g{i}"><or><basic-event name="a{i}"/><basic-event name="b{i}"/></or></define-gate>'
        for i in range(70)
    )
    source = (
        '<opsa-mef><define-fault-tree name="wide"><define-gate name="top"><and>'
        + "".join(f'<gate name="g{i}"/>' for i in range(70))
        + f"</and></define-gate>{gates}"
        + "".join(
            f'<define-basic-event name="{side}{i}"><float value="0.5"/></define-basic-event>'
            for i in range(70)
            for side in "ab"
        )
        + "</define-fault-tree></opsa-mef>"
    )
    run = make_done_run(engineer, make_revision(engineer, source), list_count=3)
    assert run.result["cut_sets"]["count"] == 2**70
    assert Run.objects.without_result().get(pk=run.pk).headline["cut_sets"] == 2**70


def test_a_request_the_engine_refuses_fails_with_every_problem():
    engineer = make_engineer()
    run = make_run(engineer, make_revision(engineer), evidence={"no-flow": False})
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.result) == ("failed", None)
    assert run.error["code"] == "bad_model"
    assert "evidence can't be true" in run.error["problems"][0]["message"]
    assert run.error["problems"][0]["mend"]


@pytest.mark.parametrize(
    ("raised", "code"),
    [(MemoryError(), "memory"), (LimitReached("seconds", "Too long."), "limit_reached")],
)
def test_a_run_that_is_stopped_says_why(run, monkeypatch, raised, code):
    def stop(*args, **kwargs):
        raise raised

    monkeypatch.setattr(execution, "quantify", stop)
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.error["code"]) == ("failed", code)


def test_an_error_of_ours_fails_the_run_and_reaches_the_log(run, monkeypatch, caplog):
    monkeypatch.setattr(execution, "quantify", lambda *args, **kwargs: 1 / 0)
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.error["code"]) == ("failed", "internal")
    assert "ZeroDivisionError" not in run.error["message"]
    assert "ZeroDivisionError" in caplog.text


def compute_slowly(*args, progress, **kwargs):
    while True:
        progress("Taking its time", 0.5)
        time.sleep(0.02)


def test_a_run_that_is_cancelled_while_it_computes_stops(run, monkeypatch):
    monkeypatch.setattr(execution, "quantify", compute_slowly)
    real, seen = Pulse.is_cancelled, []

    def cancel_then_look(pulse):
        if pulse.step == "Taking its time" and not seen:
            seen.append(cancel_run(run_id=run.pk, actor=run.requested_by))
        return real(pulse)

    monkeypatch.setattr(Pulse, "is_cancelled", cancel_then_look)
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.result) == ("cancelled", None)


def test_a_worker_that_lost_its_claim_writes_nothing(run, monkeypatch):
    monkeypatch.setattr(execution, "quantify", compute_slowly)
    real = Pulse.is_cancelled

    def lose_then_look(pulse):
        Run.objects.filter(pk=run.pk).update(attempt=2)
        return real(pulse)

    monkeypatch.setattr(Pulse, "is_cancelled", lose_then_look)
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.attempt, run.result) == ("running", 2, None)


def test_a_run_that_outlives_its_time_is_killed(run, monkeypatch):
    monkeypatch.setattr(execution, "quantify", compute_slowly)
    monkeypatch.setattr(execution, "GRACE_SECONDS", -119.5)
    execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.state, run.error["code"]) == ("failed", "time_limit")


def test_progress_is_written_but_not_more_often_than_needed(run, django_assert_num_queries):
    attempt = claim_run(run_id=run.pk)
    now = [100.0]
    pulse = Pulse(run.pk, attempt, clock=lambda: now[0])
    pulse.progress("Counting", 0.25)
    run.refresh_from_db()
    assert (run.step, run.share) == ("Counting", 0.25)
    with django_assert_num_queries(0):
        pulse.progress("Counting", 0.5)
    now[0] += 1.0
    pulse.progress("Counting", 7.0)
    run.refresh_from_db()
    assert run.share == 1.0


def test_a_database_that_is_away_for_a_moment_does_not_stop_the_run(run, monkeypatch):
    pulse = Pulse(run.pk, claim_run(run_id=run.pk))

    def away(*args, **kwargs):
        raise OperationalError("gone")

    monkeypatch.setattr(RunQuerySet, "update", away)
    pulse.progress("Counting", 0.5)
    assert not pulse.must_stop


@pytest.mark.django_db(transaction=True)  # the connection is closed on the way
@pytest.mark.usefixtures("unrecorded")
def test_an_answer_is_stored_when_the_database_comes_back(run, monkeypatch):
    monkeypatch.setattr(execution, "STORE_PATIENCE", (0.0, 0.0, 0.0))
    pulse = Pulse(run.pk, claim_run(run_id=run.pk))
    real, tries = timezone.now, []

    def away_twice():
        tries.append(1)
        if len(tries) < 3:
            raise OperationalError("gone")
        return real()

    monkeypatch.setattr(execution.timezone, "now", away_twice)
    execution._store(pulse, "finish", result={"method": "exact"})
    assert Run.objects.get(pk=run.pk).state == "done"
