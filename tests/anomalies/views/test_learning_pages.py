"""Pages of learning, of an action's rates, and of their explanations."""

from __future__ import annotations

import re

import pytest

from anomalies.services.learning import name_failure_mode
from tests.anomalies.learning import make_mode, make_proposal
from tests.anomalies.people import board_member, make_open, make_stranger, safety_engineer, viewer

pytestmark = pytest.mark.django_db


def text(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_an_empty_list_says_what_to_do(client):
    client.force_login(viewer())
    assert "No failure mode is on the list." in text(client.get("/learning/"))


def test_those_without_a_role_see_none(client):
    client.force_login(make_stranger())
    assert client.get("/learning/").status_code == 403
    assert client.get(f"/learning/modes/{make_mode().pk}/").status_code == 404
    assert client.get("/learning/through-a-tree/").status_code == 403


def test_a_mode_shows_counts_and_what_they_make_of_the_value(client):
    row = make_proposal()
    anomaly = make_open()
    name_failure_mode(anomaly_id=anomaly.pk, actor=board_member(), failure_mode_id=row.failure_mode_id)
    client.force_login(safety_engineer())
    page = text(client.get(row.failure_mode.get_absolute_url()))
    for words in (anomaly.number, "400 hours", "A value is proposed", "Posterior", "Bench log"):
        assert words in page, words


def test_a_proposal_shows_prior_posterior_and_what_moves(client):
    row = make_proposal()
    client.force_login(safety_engineer())
    page = text(client.get(row.get_absolute_url()))
    for words in ("What this change would move", "No tree uses it", "Accept", "Refuse", "safety authority"):
        assert words in page, words


def test_the_explanation_puts_the_numbers_into_the_formula(client):
    row = make_proposal()
    client.force_login(viewer())
    page = text(client.get(f"{row.failure_mode.get_absolute_url()}explain/posterior/"))
    assert "gamma(2 + 0, 10000 + 400)" in page
    assert client.get(f"{row.failure_mode.get_absolute_url()}explain/nonsense/").status_code == 404


def test_factors_follow_from_counts_and_bad_counts_are_named(client):
    client.force_login(viewer())
    assert "0.7241" in text(client.get("/learning/common-cause/?counts=20,5,1&staggered=on"))
    wrong = client.get("/learning/common-cause/?counts=20,x")
    assert wrong.status_code == 422
    assert "Write numbers with commas" in text(wrong)
    short = client.get("/learning/common-cause/?counts=20,5&prior=1,1,1")
    assert "Give 2 numbers" in text(short)


def test_a_gate_that_is_not_there_is_named(client):
    from tests.faulttree.people import make_engineer, make_revision

    revision = make_revision(make_engineer())
    client.force_login(viewer())
    page = client.get(f"/learning/through-a-tree/?tree={revision.tree_id}&gate=nonsense&count=1&demands=10")
    assert "no gate nonsense" in text(page)
