"""Explanations of what actions bring hold the figures of the tree that is written out by hand."""

from __future__ import annotations

import re

import pytest

from tests.anomalies.actions import make_proposed
from tests.anomalies.effects import make_effect
from tests.anomalies.people import viewer

pytestmark = pytest.mark.django_db


@pytest.fixture
def say(client):
    """What a page of explanation says, without its markup."""
    action = make_effect(make_proposed()).action
    client.force_login(viewer())

    def ask(figure, of=""):
        answer = client.get(f"/log/{action.anomaly.number}/benefit/explain/{figure}/?of={of}")
        return answer.status_code, re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))

    ask.action = action
    return ask


def test_before_is_the_tree_as_it_is(say):
    """no-flow = valve or (pump-1 and pump-2): 1 - 0.99 x 0.98 = 0.0298."""
    status, page = say("before")
    assert status == 200
    assert "0.029800" in page
    assert "safety authority" in page


@pytest.mark.parametrize("figure", ["alone", "together", "without"])
def test_each_figure_names_the_effects_that_went_in(say, figure):
    status, page = say(figure, say.action.number)
    assert status == 200
    assert say.action.number in page
    assert "Assumptions" in page


@pytest.mark.parametrize(("figure", "of"), [("alone", "CA-0"), ("nonsense", "")])
def test_what_the_page_does_not_show_is_not_there(say, figure, of):
    assert say(figure, of)[0] == 404
