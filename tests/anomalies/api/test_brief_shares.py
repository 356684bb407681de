"""Shared briefs through the API."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest
from django.test import Client

from tests.anomalies.api.test_operations import API, send
from tests.anomalies.people import activity_lead, make_stranger, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.readiness import make_share, make_transfer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
GIVEN = {"audience": "Panel", "days": 7, "password": PASSWORD}


def test_one_is_made_listed_and_revoked():
    lead, activity = activity_lead(), make_transfer()
    prove(lead)
    client = log_in(lead)
    answer = send(client, f"activities/{activity.pk}/brief-shares/", **GIVEN)
    assert (answer.status_code, answer["Cache-Control"]) == (201, "no-store")
    share, path = answer.json()["share"], urlsplit(answer.json()["address"]).path
    assert (share["audience"], share["state"], share["moves"]) == ("Panel", "usable", ["revoke"])
    assert Client().get(path).status_code == 200
    listed = client.get(f"{API}/activities/{activity.pk}/brief-shares/")
    assert listed.json()["results"][0]["last_opened_at"] is not None
    assert path.split("/")[3] not in listed.content.decode()
    assert send(client, f"brief-shares/{share['id']}/revoke/").json()["state"] == "revoked"
    assert Client().get(path).status_code == 404
    assert send(client, f"brief-shares/{share['id']}/revoke/").json()["code"] == "wrong_state"


@pytest.mark.parametrize("wrong", [{"days": 0}, {"days": 61}, {"audience": ""}, {"password": "guess"}])
def test_what_can_not_be_made_is_refused_by_field(wrong):
    lead = activity_lead()
    prove(lead)
    answer = send(log_in(lead), f"activities/{make_transfer().pk}/brief-shares/", **GIVEN | wrong)
    assert (answer.status_code, answer.json()["fields"].keys()) == (400, wrong.keys())


def test_who_may_not_share_is_refused_and_strangers_find_none():
    share, _ = make_share()
    client = log_in(viewer())
    assert send(client, f"activities/{share.activity_id}/brief-shares/", **GIVEN).status_code == 403
    assert client.get(f"{API}/brief-shares/{share.pk}/").json()["moves"] == []
    assert send(client, f"brief-shares/{share.pk}/revoke/").status_code == 403
    assert log_in(make_stranger()).get(f"{API}/brief-shares/{share.pk}/").status_code == 404
