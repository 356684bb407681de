"""The bench: its page, its pieces, and what its script gets back."""

from __future__ import annotations

import json

import pytest

from faulttree.models import TreeDraft, TreeRevision
from faulttree.services.drafts import open_draft
from faulttree.services.library import Sent, add_item
from tests.faulttree.bench.conftest import log_in
from tests.faulttree.people import TIMED, make_engineer, make_revision

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(engineer):
    return open_draft(actor=engineer, tree_id=make_revision(engineer).tree_id)


def post(client, draft, what, **body):
    sent = {"seen": TreeDraft.objects.get(pk=draft.pk).position, **body}
    return client.post(
        f"/bench/{draft.pk}/{what}/", json.dumps(sent), content_type="application/json", HTTP_ACCEPT="application/json"
    )


def test_the_page_shows_outline_diagram_panel_and_figures(as_engineer, draft):
    page = as_engineer.get(f"/bench/{draft.pk}/").content.decode()
    assert page.count('role="treeitem"') == 5
    assert 'data-name="both" data-under="no-flow"' in page
    assert 'data-probability="0.0298"' in page
    assert "Decision support" in page


def test_others_do_not_find_it(as_viewer, as_stranger, draft):
    for client in (as_viewer, as_stranger, log_in(make_engineer("eve"))):
        assert client.get(f"/bench/{draft.pk}/").status_code == 404
        assert post(client, draft, "steps", edit={"do": "title", "label": "X"}).status_code == 404


def test_a_step_answers_with_every_piece_and_the_new_figures(as_engineer, draft):
    edit = {"do": "value", "name": "valve", "typed": {"expression": {"model": "number", "arguments": ["0.5"]}}}
    answer = post(as_engineer, draft, "steps", edit=edit, chosen="valve", under="no-flow", view="?chosen=valve").json()
    assert answer["step"] == 1
    assert answer["words"] == "valve has another probability."
    assert set(answer["pieces"]) == {"bar", "outline", "diagram", "chosen", "live", "extras"}
    assert 'data-probability="0.51"' in answer["pieces"]["live"]
    assert "now ×17.1" in answer["pieces"]["live"]
    assert "changed" in answer["pieces"]["outline"]
    assert (answer["chosen"], answer["under"]) == ("valve", "no-flow")


def test_a_refused_step_names_the_field(as_engineer, draft):
    answer = post(as_engineer, draft, "steps", edit={"do": "add-event", "under": "both", "name": "valve"})
    assert answer.status_code == 422
    assert answer.json()["fields"]["name"][0].startswith("The name valve is taken.")


def test_a_check_says_what_would_be_wrong_and_changes_nothing(as_engineer, draft):
    typed = {"expression": {"model": "number", "arguments": ["2"]}}
    answer = post(as_engineer, draft, "check", edit={"do": "value", "name": "valve", "typed": typed}).json()
    assert "outside [0, 1]" in answer["fields"][""][0]
    answer = post(as_engineer, draft, "check", edit={"do": "name", "name": "valve", "new": "both"}).json()
    assert "taken" in answer["fields"]["new"][0]
    fine = post(as_engineer, draft, "check", edit={"do": "name", "name": "valve", "new": "V"}).json()
    assert fine["fields"] == {}
    assert TreeDraft.objects.get().position == 0


def test_a_stale_window_gets_409_and_nonsense_422(as_engineer, draft):
    stale = post(as_engineer, draft, "undo", seen=7)
    assert (stale.status_code, stale.json()["code"]) == (409, "stale_draft")
    for body in (b"", b"[]", b"{", b'{"seen": "1"}', b'{"seen": 0, "edit": 3}'):
        answer = as_engineer.post(f"/bench/{draft.pk}/steps/", body, content_type="application/json")
        assert answer.status_code == 422


def test_what_is_missing_is_said_in_place_of_figures(as_engineer, draft):
    live = post(as_engineer, draft, "steps", edit={"do": "add-event", "under": "both", "name": "X"}).json()["pieces"]
    assert "What is missing" in live["live"]
    assert "X has no probability yet." in live["live"]


def test_figures_follow_the_mission_time(engineer, as_engineer):
    draft = open_draft(actor=engineer, tree_id=make_revision(engineer, TIMED).tree_id)
    assert "mission time" in as_engineer.get(f"/bench/{draft.pk}/").content.decode()
    answer = post(as_engineer, draft, "time", hours="100").json()
    assert "mission time 100 h" in answer["pieces"]["live"]
    wrong = post(as_engineer, draft, "time", hours="soon")
    assert "is no number" in wrong.json()["message"]


def test_a_saved_draft_leads_to_its_revision_and_a_refused_one_keeps_the_note(as_engineer, draft):
    post(as_engineer, draft, "steps", edit={"do": "add-gate", "under": "both", "name": "later"})
    refused = as_engineer.post(f"/bench/{draft.pk}/save/", {"seen": 1, "note": "A long note."})
    assert refused.status_code == 422
    assert 'value="A long note."' in refused.content.decode()
    post(as_engineer, draft, "undo")
    post(as_engineer, draft, "steps", edit={"do": "value", "name": "valve", "expression": 0.2})
    saved = as_engineer.post(f"/bench/{draft.pk}/save/", {"seen": 1, "note": "Better."})
    assert saved.headers["Location"] == TreeRevision.objects.get(number=2).get_absolute_url()


def test_a_new_tree_begins_with_its_undesired_event(as_engineer, as_viewer):
    assert as_viewer.get("/trees/new/").status_code == 403
    bad = as_engineer.post("/trees/new/", {"label": "It leaks", "name": "two words", "kind": "or"})
    assert bad.status_code == 422
    assert 'value="It leaks"' in bad.content.decode()
    begun = as_engineer.post("/trees/new/", {"label": "It leaks", "name": "leak", "kind": "and"})
    page = as_engineer.get(begun.headers["Location"]).content.decode()
    assert "G1 has no input yet." in page


def test_the_number_of_queries_does_not_grow_with_the_tree(as_engineer, draft, django_assert_max_num_queries):
    with django_assert_max_num_queries(25):
        post(as_engineer, draft, "steps", edit={"do": "value", "name": "valve", "expression": 0.2})


def test_an_event_takes_its_value_from_the_library_and_follows_it(engineer, as_engineer, draft):
    add_item(actor=engineer, kind="event", name="valve-stuck", sent=Sent(0.5, "test", "Bench test 7."))
    panel = as_engineer.get(f"/bench/{draft.pk}/pieces/", {"chosen": "valve"}).json()["pieces"]["chosen"]
    assert '<option value="valve-stuck">' in panel
    answer = post(as_engineer, draft, "steps", edit={"do": "share", "name": "valve", "item": "valve-stuck"}).json()
    assert 'data-probability="0.51"' in answer["pieces"]["live"]
    answer = post(as_engineer, draft, "steps", edit={"do": "unshare", "name": "valve"}).json()
    assert 'data-probability="0.0298"' in answer["pieces"]["live"]


def test_a_branch_becomes_a_tree_and_the_panel_leads_to_it(as_engineer, draft):
    answer = post(as_engineer, draft, "split", edit={"gate": "both", "name": "pump-trouble"}).json()
    assert 'data-probability="0.0298"' in answer["pieces"]["live"]
    panel = as_engineer.get(f"/bench/{draft.pk}/pieces/", {"chosen": "both"}).json()["pieces"]["chosen"]
    assert TreeRevision.objects.get(tree__name="pump-trouble").get_absolute_url() in panel
    assert "Set type" not in panel


def test_the_form_of_a_parameter_shows_its_distribution(as_engineer, draft):
    typed = {"expression": {"model": "lognormal", "arguments": ["1e-3", "3", ""]}}
    post(as_engineer, draft, "steps", edit={"do": "parameter", "name": "rate", "typed": typed})
    form = as_engineer.get(f"/bench/{draft.pk}/pieces/", {"parameter": "rate"}).json()["pieces"]["parameter"]
    assert "<svg" in form
    assert 'value="0.001"' in form
