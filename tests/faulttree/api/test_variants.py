"""Variants through the JSON API."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.test import Client

from faulttree.models import Variant
from tests.faulttree.people import make_engineer, make_revision, make_viewer

pytestmark = pytest.mark.django_db

RULED_OUT = {"events": {"valve": False}}


@pytest.fixture
def engineer():
    cache.clear()
    return make_engineer()


@pytest.fixture
def client(engineer):
    client = Client()
    client.force_login(engineer)
    return client


@pytest.fixture
def tree(engineer):
    return make_revision(engineer).tree


@pytest.fixture
def added(client, tree):
    body = {"name": "No valve", "overrides": RULED_OUT}
    return client.post(f"/api/v1/trees/{tree.pk}/variants/", body, content_type="application/json")


def test_a_variant_is_added_listed_and_shown(client, tree, added):
    assert added.status_code == 201
    kept = added.json()
    assert (kept["overrides"], kept["words"], kept["version"]) == (RULED_OUT, ["valve ruled out"], 1)
    assert client.get(f"/api/v1/trees/{tree.pk}/variants/").json() == [kept]
    assert client.get(f"/api/v1/variants/{kept['id']}/").json() == kept


def test_what_is_wrong_with_overrides_is_named(client, tree):
    body = {"name": "Typo", "overrides": {"events": {"vlave": False}}}
    answer = client.post(f"/api/v1/trees/{tree.pk}/variants/", body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["code"] == "bad_overrides"
    assert "There is no basic event vlave." in answer.json()["fields"]["overrides"][0]


def test_a_stale_change_is_a_conflict(client, added):
    address = f"/api/v1/variants/{added.json()['id']}/change/"
    body = {"name": "Valve sticks", "overrides": {"events": {"valve": True}}, "version": 1}
    assert client.post(address, body, content_type="application/json").json()["version"] == 2
    answer = client.post(address, body | {"name": "Mine"}, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (409, "stale_variant")
    assert "“Valve sticks” now and “Mine” here" in answer.json()["message"]


def test_the_comparison_has_the_figures_and_the_caution(client, tree, added):
    told = client.get(f"/api/v1/trees/{tree.pk}/variants/comparison/").json()
    base, variant = told["rows"]
    assert (told["revision"], told["top"], base["variant"], variant["variant"]) == (
        1,
        "no-flow",
        None,
        added.json()["id"],
    )
    assert base["low"] == base["high"] == pytest.approx(0.0298)
    assert variant["ratio"] == pytest.approx([0.02 / 0.0298] * 2)
    assert (variant["state"], variant["likeliest"], variant["cut_sets"]) == ("exact", ["pump-1", "pump-2"], 1)
    assert "Decision support only" in told["caution"]


def test_a_viewer_reads_and_does_not_write(client, tree, added):
    viewer = Client()
    viewer.force_login(make_viewer())
    address = f"/api/v1/variants/{added.json()['id']}/"
    assert viewer.get(address).status_code == 200
    assert viewer.post(f"{address}remove/").status_code == 403
    assert Variant.objects.count() == 1
    assert client.post(f"{address}remove/").status_code == 204
    assert not Variant.objects.exists()
