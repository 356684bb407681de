"""Asking for runs, and cancelling them."""

from __future__ import annotations

import pytest

from config.kit.errors import BadInput, NotAllowed, WrongState
from faulttree.bridge import Overrides, Request
from faulttree.models import Run
from faulttree.reads.graphs import read_run_graph
from faulttree.services.execution import execute_run
from faulttree.services.runs import cancel_run, request_default_run, request_run
from tests.faulttree.people import (
    TIMED,
    TWO_TOPS,
    make_done_run,
    make_engineer,
    make_revision,
    make_run,
    make_viewer,
)

pytestmark = pytest.mark.django_db


def test_a_run_waits_and_its_message_goes_out_after_the_transaction(sent, django_capture_on_commit_callbacks):
    engineer = make_engineer()
    revision = make_revision(engineer)
    with django_capture_on_commit_callbacks() as callbacks:
        run = make_run(engineer, revision)
    assert (run.state, sent) == ("queued", [])
    for callback in callbacks:
        callback()
    assert sent == [run.pk]


def test_equal_requests_share_one_run():
    engineer = make_engineer()
    revision = make_revision(engineer)
    first = make_run(engineer, revision)
    assert make_run(make_engineer("bo"), revision, top="no-flow") == first
    assert make_run(engineer, revision, samples=10) != first
    assert request_run(revision_id=revision.pk, actor=engineer, request=Request(), seconds=5.0) != first


def test_a_done_run_is_not_queued_again(sent, django_capture_on_commit_callbacks):
    engineer = make_engineer()
    revision = make_revision(engineer)
    done = make_done_run(engineer, revision)
    with django_capture_on_commit_callbacks(execute=True):
        again = make_run(engineer, revision)
    assert (again.pk, again.state, sent) == (done.pk, "done", [])


def test_a_cancelled_run_starts_anew():
    engineer = make_engineer()
    revision = make_revision(engineer)
    run = make_run(engineer, revision)
    cancel_run(run_id=run.pk, actor=engineer)
    again = make_run(engineer, revision)
    assert (again.pk, again.state, again.cancel_requested, again.finished_at) == (run.pk, "queued", False, None)


def test_several_tops_need_a_choice():
    engineer = make_engineer()
    revision = make_revision(engineer, TWO_TOPS)
    with pytest.raises(BadInput) as refused:
        make_run(engineer, revision)
    assert "top" in refused.value.fields
    assert make_run(engineer, revision, top="other").request["top"] == "other"


def test_a_needed_mission_time_is_asked_for():
    engineer = make_engineer()
    revision = make_revision(engineer, TIMED)
    with pytest.raises(BadInput) as refused:
        make_run(engineer, revision)
    assert "mission_time" in refused.value.fields
    assert not Run.objects.exists()


@pytest.mark.parametrize("source", [TIMED, TWO_TOPS])
def test_there_is_no_default_run_where_a_person_must_choose(source):
    engineer = make_engineer()
    assert request_default_run(revision_id=make_revision(engineer, source).pk, actor=engineer) is None
    assert not Run.objects.exists()


def test_a_viewer_may_not_ask():
    revision = make_revision(make_engineer())
    with pytest.raises(NotAllowed):
        make_run(make_viewer(), revision)


def test_a_budget_is_never_above_that_of_the_installation(settings):
    settings.RUN_NODE_BUDGET, settings.RUN_SECONDS = 1000, 30.0
    engineer = make_engineer()
    run = request_run(
        revision_id=make_revision(engineer).pk, actor=engineer, request=Request(), nodes=10**9, seconds=1e6
    )
    assert run.request["budget"] == {"nodes": 1000, "seconds": 30.0}


def test_cancelling_a_run_that_waits_ends_it():
    engineer = make_engineer()
    run = cancel_run(run_id=make_run(engineer, make_revision(engineer)).pk, actor=engineer)
    assert (run.state, run.finished_at is not None) == ("cancelled", True)
    assert not execute_run(run_id=run.pk)


def test_a_done_run_can_not_be_cancelled():
    engineer = make_engineer()
    done = make_done_run(engineer, make_revision(engineer))
    with pytest.raises(WrongState):
        cancel_run(run_id=done.pk, actor=engineer)
    done.refresh_from_db()
    assert (done.state, done.cancel_requested) == ("done", False)


def test_a_viewer_may_not_cancel():
    engineer = make_engineer()
    run = make_run(engineer, make_revision(engineer))
    with pytest.raises(NotAllowed):
        cancel_run(run_id=run.pk, actor=make_viewer())
    run.refresh_from_db()
    assert run.state == "queued"


def test_a_broker_that_is_away_does_not_stop_the_request(monkeypatch, django_capture_on_commit_callbacks):
    from kombu.exceptions import OperationalError

    from faulttree import queue

    def away(*args, **kwargs):
        raise OperationalError("nobody listens")

    monkeypatch.undo()  # the real sender
    monkeypatch.setattr(queue.current_app, "send_task", away)
    engineer = make_engineer()
    revision = make_revision(engineer)
    with django_capture_on_commit_callbacks(execute=True):
        run = make_run(engineer, revision)
    assert Run.objects.get(pk=run.pk).state == "queued"


def test_overrides_are_computed_and_told_with_the_answer():
    engineer = make_engineer()
    revision = make_revision(engineer)
    base = make_done_run(engineer, revision)
    run = make_done_run(engineer, revision, overrides=Overrides(events={"valve": False}))
    assert run != base
    assert run.result["probability"] == pytest.approx(0.1 * 0.2)
    assert run.result["overrides"] == {"events": {"valve": False}}
    assert read_run_graph(run)["valve"].kind == "house"


def test_overrides_that_name_what_is_not_in_the_tree_are_refused():
    engineer = make_engineer()
    with pytest.raises(BadInput, match=r"There is no basic event vaelve\. Did you mean valve\?") as refused:
        make_run(engineer, make_revision(engineer), overrides=Overrides(events={"vaelve": False}))
    assert "overrides" in refused.value.fields
    assert not Run.objects.exists()


def test_a_mission_time_among_the_overrides_is_enough():
    engineer = make_engineer()
    run = make_done_run(engineer, make_revision(engineer, TIMED), overrides=Overrides(mission_time=8.0))
    assert run.result["mission_time"] == 8.0
