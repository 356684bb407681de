"""The list of trees."""

from __future__ import annotations

import csv
import io

import pytest
from django.urls import reverse

from tests.faulttree.people import PUMPS, make_done_run, make_revision, make_run

URL = "/trees/"


def test_it_shows_trees_with_their_figures(as_viewer, engineer):
    make_done_run(engineer, make_revision(engineer))
    page = as_viewer.get(URL).content.decode()
    assert "No flow" in page
    assert "exact" in page
    assert "0.029800" in page
    assert "Import a tree" not in page


def test_the_start_page_leads_to_it(as_viewer):
    assert f'href="{URL}"' in as_viewer.get("/").content.decode()


def test_nobody_sees_it_without_logging_in(client, db):
    assert client.get(URL).headers["Location"] == f"{reverse('login')}?next={URL}"


def test_a_stranger_is_refused(as_stranger):
    assert as_stranger.get(URL).status_code == 403


def test_an_empty_list_says_what_to_do_next(as_engineer, as_viewer):
    assert reverse("faulttree:import") in as_engineer.get(URL).content.decode()
    assert "No trees yet" in as_viewer.get(URL).content.decode()


def test_words_filter_it(as_engineer, engineer):
    make_revision(engineer)
    assert "No flow" in as_engineer.get(URL, {"words": "flow"}).content.decode()
    assert "No tree holds" in as_engineer.get(URL, {"words": "tank"}).content.decode()


def test_htmx_gets_the_table_alone(as_engineer, engineer):
    make_revision(engineer)
    piece = as_engineer.get(URL, headers={"HX-Request": "true"})
    assert "<html" not in piece.content.decode()
    assert piece.content.decode().lstrip().startswith("<section")
    assert "HX-Request" in piece.headers["Vary"]


def test_its_queries_do_not_grow_with_the_trees(as_engineer, engineer, django_assert_max_num_queries):
    for number in range(12):
        revision = make_revision(engineer, PUMPS.replace('"pumps"', f'"pumps-{number}"'))
        make_run(engineer, revision)
    with django_assert_max_num_queries(9):
        assert "12 trees" in as_engineer.get(URL).content.decode()


def read_export(client, **query):
    answer = client.get(f"{URL}export.csv", query)
    return list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))


def test_all_of_it_is_exported_with_the_figures_in_full(as_viewer, engineer):
    make_done_run(engineer, make_revision(engineer))
    make_revision(engineer, PUMPS.replace('"pumps"', '"pumps-2"'))
    done, waiting = read_export(as_viewer)
    assert (done["name"], done["method"], done["minimal cut sets"]) == ("pumps", "exact", "2")
    assert float(done["top-event probability"]) == pytest.approx(0.0298, rel=1e-12)
    assert (waiting["name"], waiting["run"], waiting["top-event probability"]) == ("pumps-2", "not computed", "")
    assert [row["name"] for row in read_export(as_viewer, words="pumps-2")] == ["pumps-2"]


def test_a_long_list_is_exported_whole(as_viewer, engineer):
    for number in range(103):
        make_revision(engineer, PUMPS.replace('"pumps"', f'"pumps-{number:03}"'))
    assert [row["name"] for row in read_export(as_viewer)] == [f"pumps-{number:03}" for number in range(103)]


def test_a_stranger_exports_nothing(as_stranger):
    assert as_stranger.get(f"{URL}export.csv").status_code == 403
