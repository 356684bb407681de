"""What the palette is offered of the records."""

from __future__ import annotations

import re

import pytest

from anomalies.views.search import OFFERED
from tests.anomalies.people import make_draft, make_open, make_stranger, recorder, viewer
from tests.anomalies.web.pages import log_in
from tests.faulttree.people import make_engineer, make_revision

pytestmark = pytest.mark.django_db


def ask(words, person=None):
    """The piece of HTML."""
    answer = log_in(person or viewer()).get("/search/options/", {"words": words})
    assert answer.status_code == 200
    return answer.content.decode()


def count(piece):
    return len(re.findall(r'role="option"', piece))


def test_nothing_is_offered_without_words_or_for_words_that_nothing_holds():
    make_open()
    for words in ("", "   ", "giraffe", "-&|!"):
        assert count(ask(words)) == 0
        assert ask(words).strip() == ""


def test_the_best_match_comes_first_and_leads_to_its_record():
    make_open(title="Other", description="a coupling somewhere in a long story")
    best = make_open(title="Coupling")
    piece = ask("coupling")
    assert re.search(r'href="([^"]+)"', piece)[1] == f"/records/anomaly/{best.pk}/"
    assert best.number in piece
    assert "Anomalies" in piece
    assert 'id="palette-record-1"' in piece


def test_no_more_than_the_best_are_offered():
    for _ in range(OFFERED + 3):
        make_open(title="Coupling")
    assert count(ask("coupling")) == OFFERED


def test_titles_are_escaped():
    make_open(title="<b>Coupling</b>")
    piece = ask("coupling")
    assert "<b>" not in piece
    assert "&lt;b&gt;" in piece


def test_a_draft_is_offered_to_its_recorder_alone_and_strangers_find_nothing():
    make_draft(title="Giraffe in the airlock")
    assert count(ask("giraffe", recorder())) == 1
    assert count(ask("giraffe")) == 0
    make_open(title="Coupling")
    assert count(ask("coupling", make_stranger())) == 0


def test_trees_are_offered_too():
    tree = make_revision(make_engineer()).tree
    piece = ask(tree.name)
    assert f'href="{tree.get_absolute_url()}"' in piece
    assert "Fault trees" in piece
