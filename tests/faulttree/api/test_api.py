"""The JSON API: shapes, people, refusals, and a schema that tells the truth."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from faulttree.models import Run, Tree
from faulttree.services.execution import execute_run
from tests.faulttree.people import (
    PUMPS,
    TWO_TOPS,
    make_done_run,
    make_engineer,
    make_revision,
    make_run,
    make_stranger,
    make_viewer,
)

pytestmark = pytest.mark.django_db
API = "/api/v1"


def log_in(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def engineer():
    return make_engineer()


@pytest.fixture
def as_engineer(engineer):
    return log_in(engineer)


@pytest.fixture
def as_viewer():
    return log_in(make_viewer())


@pytest.fixture
def revision(engineer):
    return make_revision(engineer)


def file_of(source):
    return SimpleUploadedFile("pumps.xml", source.encode())


def test_a_tree_goes_in_and_its_answer_comes_out(as_engineer):
    made = as_engineer.post(f"{API}/trees/", {"file": file_of(PUMPS), "note": "By the API."})
    assert made.status_code == 201
    tree = made.json()["id"]
    asked = as_engineer.post(
        f"{API}/trees/{tree}/revisions/1/runs/",
        {"samples": 20, "evidence": {"valve": False}},
        content_type="application/json",
    )
    assert asked.status_code == 202
    run = asked.json()
    assert (run["state"], run["request"]["samples"], run["tree"], run["revision"]) == ("queued", 20, tree, 1)
    assert as_engineer.get(f"{API}/runs/{run['id']}/result/").status_code == 409
    execute_run(run_id=run["id"])
    done = as_engineer.get(f"{API}/runs/{run['id']}/").json()
    assert (done["state"], done["headline"]["method"]) == ("done", "exact")
    assert as_engineer.get(f"{API}/runs/{run['id']}/result/").json() == Run.objects.get().result


def test_lists(as_viewer, engineer, revision):
    make_run(engineer, revision)
    trees = as_viewer.get(f"{API}/trees/", {"words": "flow"}).json()
    assert [tree["name"] for tree in trees["results"]] == ["pumps"]
    assert as_viewer.get(f"{API}/trees/", {"words": "tank"}).json()["count"] == 0
    revisions = as_viewer.get(f"{API}/trees/{revision.tree_id}/revisions/").json()
    assert [(row["number"], row["tops"], row["author"]) for row in revisions] == [(1, ["no-flow"], "ada")]
    runs = as_viewer.get(f"{API}/trees/{revision.tree_id}/revisions/1/runs/").json()
    assert [row["state"] for row in runs] == ["queued"]


def test_a_refused_file_names_every_problem(as_engineer):
    source = PUMPS.replace('<basic-event name="valve"/>', '<basic-event name="valv"/>')
    answer = as_engineer.post(f"{API}/trees/", {"file": file_of(source)})
    assert answer.status_code == 400
    refused = answer.json()
    assert set(refused) == {"code", "message", "fields"}
    assert refused["code"] == "bad_model"
    assert "line 5" in refused["fields"]["file"][0]
    assert not Tree.objects.exists()


def test_a_revision_is_added(as_engineer, revision):
    url = f"{API}/trees/{revision.tree_id}/revisions/"
    assert as_engineer.post(url, {"file": file_of(TWO_TOPS)}).json()["number"] == 2
    assert as_engineer.post(url, {"file": file_of(TWO_TOPS)}).json()["code"] == "unchanged"


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"samples": -1}, "samples"),
        ({"time_grid": {"start": 5, "stop": 1, "step": 1}}, "time_grid.non_field_errors"),
        ({"time_grid": {"start": 0, "stop": 1, "step": 1e-9}}, "time_grid.non_field_errors"),
        ({"evidence": {"valve": "perhaps"}}, "evidence.valve"),
    ],
)
def test_bad_requests_are_told_by_field(as_engineer, revision, sent, field):
    answer = as_engineer.post(
        f"{API}/trees/{revision.tree_id}/revisions/1/runs/", sent, content_type="application/json"
    )
    assert (answer.status_code, answer.json()["code"]) == (400, "bad_input")
    assert answer.json()["fields"][field]
    assert not Run.objects.exists()


def test_a_run_is_cancelled_once(as_engineer, engineer, revision):
    run = make_run(engineer, revision)
    assert as_engineer.post(f"{API}/runs/{run.pk}/cancel/").json()["state"] == "cancelled"
    again = as_engineer.post(f"{API}/runs/{run.pk}/cancel/")
    assert (again.status_code, again.json()["code"]) == (409, "wrong_state")


def test_viewers_read_and_change_nothing(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    assert as_viewer.get(f"{API}/runs/{run.pk}/").status_code == 200
    for url, sent in (
        ("trees/", {"file": file_of(TWO_TOPS)}),
        (f"trees/{revision.tree_id}/revisions/", {"file": file_of(TWO_TOPS)}),
        (f"runs/{run.pk}/cancel/", {}),
    ):
        answer = as_viewer.post(f"{API}/{url}", sent)
        assert (answer.status_code, answer.json()["code"]) == (403, "not_allowed"), url
    assert as_viewer.post(f"{API}/trees/{revision.tree_id}/revisions/1/runs/").status_code == 403


def test_strangers_find_nothing_and_nobody_is_let_in(engineer, revision):
    run = make_run(engineer, revision)
    stranger, nobody = log_in(make_stranger()), Client()
    for url in (f"trees/{revision.tree_id}/revisions/", f"runs/{run.pk}/", f"runs/{run.pk}/result/"):
        answer = stranger.get(f"{API}/{url}")
        assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
        assert nobody.get(f"{API}/{url}").status_code == 401
    assert stranger.get(f"{API}/trees/").status_code == 403
    assert nobody.get(f"{API}/schema/").status_code == 401


def test_writing_needs_the_token_of_the_session(engineer, revision):
    client = Client(enforce_csrf_checks=True)
    client.force_login(engineer)
    run = make_run(engineer, revision)
    assert client.post(f"{API}/runs/{run.pk}/cancel/").status_code == 403
    run.refresh_from_db()
    assert run.state == "queued"


def test_the_schema_is_complete_and_without_warnings(as_viewer, capsys):
    answer = as_viewer.get(f"{API}/schema/", headers={"Accept": "application/vnd.oai.openapi+json"})
    paths = answer.json()["paths"]
    assert set(paths["/api/v1/trees/"]) == {"get", "post"}
    assert set(paths["/api/v1/runs/{run_id}/cancel/"]) == {"post"}
    assert "Warning" not in capsys.readouterr().err


def test_the_documentation_needs_no_other_site(as_viewer):
    page = as_viewer.get(f"{API}/docs/")
    assert page.status_code == 200
    assert "https://" not in page.content.decode().split("<body>")[0]
