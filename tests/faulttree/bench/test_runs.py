"""Asking for runs, watching, cancelling and repeating them on pages."""

from __future__ import annotations

import json

import pytest

from faulttree.models import Run
from faulttree.services.execution import claim_run, execute_run
from faulttree.services.runs import cancel_run
from tests.faulttree.people import TIMED, TWO_TOPS, make_done_run, make_revision, make_run


def url_of(revision):
    return f"{revision.get_absolute_url()}runs/"


@pytest.fixture
def revision(engineer):
    return make_revision(engineer)


def test_the_form_asks_for_a_run(as_engineer, revision):
    answer = as_engineer.post(
        url_of(revision),
        {
            "list_count": "7",
            "max_order": "3",
            "min_probability": "1e-9",
            "samples": "100",
            "seed": "5",
            "time_start": "0",
            "time_stop": "8",
            "time_step": "2",
            "occurred": "valve",
            "not_occurred": "pump-1",
            "sampling": "monte-carlo",
            "prime_implicants": "2",
            "seconds": "9",
            "nodes": "5000",
        },
    )
    run = Run.objects.get()
    assert answer.headers["Location"] == run.get_absolute_url()
    assert run.request == {
        "top": "no-flow",
        "mission_time": None,
        "list_count": 7,
        "max_order": 3,
        "min_probability": 1e-9,
        "time_grid": {"start": 0.0, "stop": 8.0, "step": 2.0},
        "samples": 100,
        "seed": 5,
        "sampling": "monte-carlo",
        "evidence": {"pump-1": False, "valve": True},
        "prime_implicants": 2,
        "budget": {"nodes": 5000, "seconds": 9.0},
    }


def test_an_empty_form_asks_for_the_defaults(as_engineer, revision):
    as_engineer.post(url_of(revision), {})
    run = Run.objects.get()
    assert (run.request["list_count"], run.request["seed"], run.request["samples"]) == (500, 1, 0)
    assert run.request["time_grid"] is None


def test_the_form_begins_with_the_settings_of_the_run(as_engineer, engineer, revision):
    run = make_done_run(engineer, revision, samples=77, evidence={"valve": True})
    page = as_engineer.get(run.get_absolute_url()).content.decode()
    assert 'name="samples" value="77"' in page
    assert 'name="occurred" value="valve"' in page


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"list_count": "-1"}, "list_count"),
        ({"list_count": "1000000"}, "list_count"),
        ({"min_probability": "2"}, "min_probability"),
        ({"samples": "1"}, "samples"),
        ({"seed": "x"}, "seed"),
        ({"mission_time": "-1"}, "mission_time"),
        ({"mission_time": "nan"}, "mission_time"),
        ({"time_stop": "8"}, "time_step"),
        ({"time_start": "9", "time_stop": "8", "time_step": "1"}, "time_stop"),
        ({"time_stop": "8", "time_step": "0"}, "time_step"),
        ({"time_stop": "8", "time_step": "0.0001"}, "time_step"),
        ({"occurred": "valve", "not_occurred": "valve"}, "not_occurred"),
        ({"seconds": "1e9"}, "seconds"),
        ({"top": "nobody"}, "top"),
    ],
)
def test_bad_settings_are_told_at_their_field(as_engineer, revision, sent, field):
    answer = as_engineer.post(url_of(revision), sent)
    assert answer.status_code == 422
    assert answer.context["page"].form.errors[field]
    assert not Run.objects.exists()


@pytest.mark.parametrize(("source", "field"), [(TIMED, "mission_time"), (TWO_TOPS, "top")])
def test_what_a_tree_needs_is_asked_for(as_engineer, engineer, source, field):
    answer = as_engineer.post(url_of(make_revision(engineer, source)), {})
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()


def test_evidence_on_what_is_not_in_the_tree_is_told_with_what_was_meant(as_engineer, revision):
    answer = as_engineer.post(url_of(revision), {"occurred": "valv", "not_occurred": "pump-3"})
    errors = answer.context["page"].form.errors
    assert answer.status_code == 422
    assert "Did you mean valve" in errors["occurred"][0]
    assert "pump-3" in errors["not_occurred"][0]
    assert not Run.objects.exists()


def test_a_viewer_may_not_ask_and_a_stranger_finds_nothing(as_viewer, as_stranger, revision):
    assert as_viewer.post(url_of(revision), {}).status_code == 403
    assert as_stranger.post(url_of(revision), {}).status_code == 404
    assert not Run.objects.exists()


def test_progress_is_a_piece_until_the_run_ends(as_viewer, engineer, revision):
    run = make_run(engineer, revision)
    url = f"/runs/{run.pk}/progress/"
    waiting = as_viewer.get(url)
    assert "Waiting for a worker" in waiting.content.decode()
    assert "<html" not in waiting.content.decode()
    assert "HX-Trigger" not in waiting.headers
    execute_run(run_id=run.pk)
    ended = as_viewer.get(url)
    assert ended.headers["HX-Trigger"] == "run-ended"
    assert "hx-get" not in ended.content.decode()


def test_a_run_is_cancelled_and_the_worker_told(as_engineer, engineer, revision):
    waiting = make_run(engineer, revision)
    assert as_engineer.post(f"/runs/{waiting.pk}/cancel/").status_code == 302
    computing = make_run(engineer, revision, samples=10)
    claim_run(run_id=computing.pk)
    as_engineer.post(f"/runs/{computing.pk}/cancel/")
    waiting.refresh_from_db()
    computing.refresh_from_db()
    assert waiting.state == "cancelled"
    assert (computing.state, computing.cancel_requested) == ("running", True)


def test_cancelling_what_is_done_is_refused(as_engineer, engineer, revision):
    run = make_done_run(engineer, revision)
    assert as_engineer.post(f"/runs/{run.pk}/cancel/").status_code == 409


def test_cancel_and_repeat_are_for_engineers(as_viewer, as_stranger, engineer, revision):
    run = make_run(engineer, revision)
    for does in ("cancel", "repeat"):
        assert as_viewer.post(f"/runs/{run.pk}/{does}/").status_code == 403
        assert as_stranger.post(f"/runs/{run.pk}/{does}/").status_code == 404
        assert as_viewer.get(f"/runs/{run.pk}/{does}/").status_code == 405
    run.refresh_from_db()
    assert run.state == "queued"


def test_a_run_is_repeated_with_the_same_request(as_engineer, engineer, revision):
    run = make_run(engineer, revision)
    cancel_run(run_id=run.pk, actor=engineer)
    answer = as_engineer.post(f"/runs/{run.pk}/repeat/")
    assert answer.headers["Location"] == run.get_absolute_url()
    run.refresh_from_db()
    assert run.state == "queued"


def test_the_answer_is_handed_out_as_json(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    assert json.loads(as_viewer.get(f"/runs/{run.pk}/result.json").content) == run.result


def test_there_is_no_json_before_there_is_an_answer(as_viewer, engineer, revision):
    run = make_run(engineer, revision)
    assert as_viewer.get(f"/runs/{run.pk}/result.json").status_code == 422
