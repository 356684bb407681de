"""Pages of the library."""

from __future__ import annotations

import pytest

from faulttree.models import DataSet, SharedItem
from faulttree.services import library
from faulttree.services.library import Sent
from tests.faulttree.people import make_done_run, make_engineer, make_revision, make_stranger, make_viewer
from tests.faulttree.services.test_library import SHARED

pytestmark = pytest.mark.django_db

TYPED = {
    "kind": "event", "name": "pump", "label": "Pump stops", "unit": "", "model": "number", "number-0": "0.3",
    "source_kind": "test", "source": "Report 7, page 3", "note": "", "seen": "0",
}  # fmt: skip


@pytest.fixture
def engineer(client):
    found = make_engineer()
    client.force_login(found)
    return found


def make_item(engineer):
    sent = Sent(0.3, "test", "Report 7", "Pump stops")
    return library.add_item(actor=engineer, kind="event", name="pump", sent=sent).item


def test_an_empty_library_says_what_to_do_next(client, engineer):
    page = client.get("/library/").text
    assert "Nothing is shared yet" in page
    assert "/library/new/" in page
    assert "No data set yet" in client.get("/library/data-sets/").text


def test_a_new_item_is_previewed_then_saved(client, engineer):
    make_revision(engineer, SHARED)
    shown = client.post("/library/new/", {**TYPED, "preview": "1"})
    assert shown.status_code == 200
    assert "What this change would move" in shown.text
    assert 'value="0.3"' in shown.text
    assert not DataSet.objects.exists()
    assert client.post("/library/new/", {**TYPED, "save": "1"}).status_code == 302
    value = SharedItem.objects.get().values.get()
    assert (value.expression, value.label, value.source) == (0.3, "Pump stops", "Report 7, page 3")
    listed = client.get("/library/?words=pump").text
    assert "data set 1" in listed
    assert "No item is like that" in client.get("/library/?words=nothing").text


@pytest.mark.parametrize("button", ["preview", "save"])
@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"number-0": "1 in 10"}, "neither a number nor the name"),
        ({"number-0": "2"}, "outside [0, 1]"),
        ({"source": ""}, "Name the source"),
        ({"model": "other", "other-0": "{"}, "This is no JSON"),
        ({"model": "other", "other-0": '{"exponential": [1]}'}, "exponential"),
        ({"model": "exponential", "exponential-0": ""}, "Failure rate λ is missing"),
    ],
)
def test_what_is_wrong_stands_beside_the_field_and_nothing_typed_is_lost(client, engineer, button, typed, told):
    answer = client.post("/library/new/", {**TYPED, **typed, button: "1"})
    assert answer.status_code == 422
    assert told in answer.text
    assert "Pump stops" in answer.text
    assert not DataSet.objects.exists()


def test_an_item_shows_its_history_and_the_trees_that_use_it(client, engineer):
    item = make_item(engineer)
    revision = make_revision(engineer, SHARED)
    changed = {**TYPED, "number-0": "0.6", "seen": "1", "save": "1", "note": "Worse in dust."}
    assert client.post(f"/library/{item.pk}/", changed).status_code == 302
    page = client.get(f"/library/{item.pk}/").text
    for words in ("Worse in dust.", "0.3", "0.6", revision.tree.get_absolute_url(), "data set 2"):
        assert words in page
    assert "Worse in dust." in client.get("/library/data-sets/").text


def test_a_stale_form_says_what_happened_and_keeps_what_was_typed(client, engineer):
    item = make_item(engineer)
    library.change_value(actor=make_engineer("eve"), item_id=item.pk, sent=Sent(0.4, "test", "Report 8"), seen=1)
    answer = client.post(f"/library/{item.pk}/", {**TYPED, "number-0": "0.6", "seen": "1", "save": "1"})
    assert answer.status_code == 409
    assert "eve changed pump in data set 2" in answer.text
    assert 'value="0.6"' in answer.text
    assert DataSet.objects.count() == 2


def test_the_page_of_a_run_offers_the_newer_data_set(client, engineer):
    item = make_item(engineer)
    run = make_done_run(engineer, make_revision(engineer, SHARED))
    assert "Compute with data set" not in client.get(f"/runs/{run.pk}/").text
    library.change_value(actor=engineer, item_id=item.pk, sent=Sent(0.4, "test", "Report 8"), seen=1)
    page = client.get(f"/runs/{run.pk}/").text
    assert "Computed with data set 1" in page
    assert "Compute with data set 2" in page
    assert client.post(f"/runs/{run.pk}/repeat/").url != f"/runs/{run.pk}/"


def test_readers_see_no_form_and_strangers_nothing(client, engineer):
    item = make_item(engineer)
    client.force_login(make_viewer())
    assert "Save as a new data set" not in client.get(f"/library/{item.pk}/").text
    assert client.post(f"/library/{item.pk}/", {**TYPED, "save": "1"}).status_code == 403
    assert client.get("/library/new/").status_code == 403
    client.force_login(make_stranger())
    assert client.get("/library/").status_code == 403
    assert client.get(f"/library/{item.pk}/").status_code == 404


def test_the_file_holds_every_item(client, engineer):
    make_item(engineer)
    lines = b"".join(client.get("/library/export.csv")).decode().splitlines()
    assert lines[0].startswith("kind,name,title,value")
    assert lines[1] == "Basic event,pump,Pump stops,0.3,,Test,Report 7,1,0,no"
