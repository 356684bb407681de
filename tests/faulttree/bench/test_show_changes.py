"""The page of the changes of a revision, the line in the history, and the same for programs."""

from __future__ import annotations

import pytest

from faulttree.services.trees import revise_tree
from tests.faulttree.people import PUMPS, PUMPS_PROBABILITY, make_revision

SECOND = PUMPS.replace('value="0.01"', 'value="0.005"')
THIRD = SECOND.replace("<and>", "<or>").replace("</and>", "</or>")


@pytest.fixture
def tree(engineer):
    first = make_revision(engineer)
    for number, source in enumerate((SECOND, THIRD), 2):
        revise_tree(tree_id=first.tree_id, actor=engineer, source=source.encode(), file_name=f"{number}.xml")
    return first.tree


def text(answer):
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_a_revision_is_compared_with_the_one_before(as_viewer, tree):
    page = text(as_viewer.get(f"/trees/{tree.pk}/revisions/3/changes/"))
    assert "Changes from revision 2 to 3" in page
    assert "Gate both: from AND to OR." in page
    assert "valve: probability" not in page
    assert "safety authority" in page


def test_another_revision_can_be_chosen(as_viewer, tree):
    page = text(as_viewer.get(f"/trees/{tree.pk}/revisions/3/changes/?against=1"))
    assert "Gate both: from AND to OR." in page
    assert "Basic event valve: probability from 0.01 to 0.005." in page
    back = text(as_viewer.get(f"/trees/{tree.pk}/revisions/1/changes/?against=3"))
    assert "Basic event valve: probability from 0.005 to 0.01." in back


@pytest.mark.parametrize("against", ["9", "0", "-1", "x", "1e9"])
def test_a_revision_that_isnt_there_is_not_found(as_viewer, tree, against):
    assert as_viewer.get(f"/trees/{tree.pk}/revisions/3/changes/?against={against}").status_code == 404


def test_the_first_revision_says_that_it_is(as_viewer, tree):
    page = text(as_viewer.get(f"/trees/{tree.pk}/revisions/1/changes/"))
    assert "Revision 1 is the first." in page
    assert "Choose a later revision above." in page


def test_a_stranger_finds_nothing(as_stranger, tree):
    assert as_stranger.get(f"/trees/{tree.pk}/revisions/3/changes/").status_code == 404


def test_htmx_gets_the_list_alone(as_viewer, tree):
    piece = text(as_viewer.get(f"/trees/{tree.pk}/revisions/3/changes/", headers={"HX-Request": "true"}))
    assert piece.startswith('<section class="plate" id="changes"')


def test_the_history_shows_the_number_of_changes_and_the_effect(as_viewer, tree):
    page = text(as_viewer.get(f"/trees/{tree.pk}/"))
    assert f'href="/trees/{tree.pk}/revisions/2/changes/">1 change</a>' in page
    ratio = (1 - 0.995 * 0.98) / PUMPS_PROBABILITY
    assert f"×{ratio:.3g}" in page


def test_programs_get_the_same(as_viewer, tree):
    data = as_viewer.get(f"/api/v1/trees/{tree.pk}/revisions/3/changes/").json()
    assert (data["revision"], data["against"]) == (3, 2)
    assert data["changes"] == [
        {"kind": "gate", "name": "both", "what": "changed", "words": "Gate both: from AND to OR."}
    ]
    assert data["tops"][0]["before"]["probability"] == pytest.approx(1 - 0.995 * 0.98, rel=1e-12)
    assert "safety authority" in data["caution"]
    first = as_viewer.get(f"/api/v1/trees/{tree.pk}/revisions/1/changes/").json()
    assert (first["against"], first["changes"], first["mission_time"]) == (None, [], None)
