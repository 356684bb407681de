"""Addresses of a calendar through the API."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest
from django.test import Client

from tests.anomalies.api.test_operations import API, send
from tests.anomalies.calendars import make
from tests.anomalies.people import recorder, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
GIVEN = {"name": "import", "reach": "mine", "password": PASSWORD}


def test_one_is_made_listed_and_revoked():
    owner = viewer()
    prove(owner)
    client = log_in(owner)
    answer = send(client, "calendar-keys/", **GIVEN)
    assert (answer.status_code, answer["Cache-Control"]) == (201, "no-store")
    key, path = answer.json()["key"], urlsplit(answer.json()["address"]).path
    assert (key["name"], key["reach"], key["state"], key["moves"]) == ("import", "mine", "usable", ["revoke"])
    assert Client().get(path).status_code == 200
    listed = client.get(f"{API}/calendar-keys/")
    assert listed.json()["results"][0]["last_read_at"] is not None
    assert path.split("/")[2] not in listed.content.decode()
    assert send(client, f"calendar-keys/{key['id']}/revoke/").json()["state"] == "revoked"
    assert Client().get(path).status_code == 404


@pytest.mark.parametrize("wrong", [{"name": ""}, {"reach": "others"}, {"password": "guess"}])
def test_what_can_not_be_made_is_refused_by_field(wrong):
    owner = viewer()
    prove(owner)
    answer = send(log_in(owner), "calendar-keys/", **GIVEN | wrong)
    assert (answer.status_code, answer.json()["fields"].keys()) == (400, wrong.keys())


def test_the_keys_of_others_are_out_of_sight():
    key, _ = make(viewer())
    other = log_in(recorder())
    assert other.get(f"{API}/calendar-keys/").json()["count"] == 0
    assert other.get(f"{API}/calendar-keys/{key.pk}/").status_code == 404
    assert send(other, f"calendar-keys/{key.pk}/revoke/").status_code == 404
