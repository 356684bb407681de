"""The upload of an exchange file."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from faulttree.models import Run, Tree, TreeRevision
from tests.faulttree.people import PUMPS, TWO_TOPS, make_revision

URL = "/trees/import/"


def upload(client, source=PUMPS, url=URL, **fields):
    """Send a file."""
    return client.post(url, {"file": SimpleUploadedFile("pumps.xml", source.encode()), **fields})


def test_a_good_file_becomes_a_tree_that_is_computed_at_once(as_engineer):
    answer = upload(as_engineer, label="No flow at all", note="From the test.")
    revision = TreeRevision.objects.get()
    assert answer.headers["Location"] == revision.get_absolute_url()
    assert (revision.tree.label, revision.note) == ("No flow at all", "From the test.")
    assert Run.objects.get().revision == revision


def test_a_file_with_mistakes_shows_each_with_line_element_and_mend(as_engineer):
    source = PUMPS.replace('<basic-event name="valve"/>', '<basic-event name="valv"/>').replace(
        '<basic-event name="pump-1"/>', '<basic-event name="pomp-1"/>'
    )
    answer = upload(as_engineer, source, label="Typed before")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "2 problems" in page
    assert "line 5" in page
    assert "valv is not defined." in page
    assert "Did you mean valve" in page
    assert "pomp-1 is not defined." in page
    assert 'value="Typed before"' in page
    assert not Tree.objects.exists()


@pytest.mark.parametrize("source", ["", "no XML at all", '<!DOCTYPE x [<!ENTITY e "x">]><opsa-mef>&e;</opsa-mef>'])
def test_what_is_no_exchange_file_is_refused_on_the_form(as_engineer, source):
    answer = upload(as_engineer, source)
    assert answer.status_code == 422
    assert "field__errors" in answer.content.decode()
    assert not Tree.objects.exists()


def test_no_file_is_refused(as_engineer):
    assert as_engineer.post(URL, {}).status_code == 422


def test_a_file_over_the_limit_is_refused_unread(as_engineer, settings):
    settings.MODEL_MAX_BYTES = 100
    answer = upload(as_engineer)
    assert answer.status_code == 422
    assert "larger than" in answer.content.decode()


def test_a_name_that_is_taken_is_told_at_the_name(as_engineer, engineer):
    make_revision(engineer)
    answer = upload(as_engineer)
    assert answer.status_code == 422
    assert "id_name_error" in answer.content.decode()


def test_the_form_is_there(as_engineer):
    page = as_engineer.get(URL).content.decode()
    assert 'enctype="multipart/form-data"' in page


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_viewer_is_refused(as_viewer, method):
    assert getattr(as_viewer, method)(URL).status_code == 403
    assert not Tree.objects.exists()


def test_a_new_revision_is_added(as_engineer, engineer):
    first = make_revision(engineer)
    answer = upload(as_engineer, TWO_TOPS, f"/trees/{first.tree_id}/revise/", note="Two tops.")
    assert answer.headers["Location"] == f"/trees/{first.tree_id}/revisions/2/"
    page = as_engineer.get(answer.headers["Location"]).content.decode()
    assert "2 top events" in page
    assert "not the newest" in as_engineer.get(first.get_absolute_url()).content.decode()


def test_the_same_file_again_is_refused(as_engineer, engineer):
    first = make_revision(engineer)
    answer = upload(as_engineer, PUMPS, f"/trees/{first.tree_id}/revise/")
    assert answer.status_code == 422
    assert "byte for byte" in answer.content.decode()


def test_revising_is_for_engineers_and_trees_that_are_there(as_engineer, as_viewer, as_stranger, engineer):
    url = f"/trees/{make_revision(engineer).tree_id}/revise/"
    assert as_viewer.get(url).status_code == 403
    assert as_stranger.get(url).status_code == 404
    assert as_engineer.get("/trees/999/revise/").status_code == 404
