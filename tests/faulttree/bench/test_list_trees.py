"""The list of trees."""

from __future__ import annotations

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
