"""The page of a person's calendar, and what a calendar program gets."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from anomalies.models import CalendarKey
from anomalies.services.calendar_keys import revoke_key
from tests.anomalies.actions import make_committed
from tests.anomalies.calendars import ask, make, read
from tests.anomalies.people import recorder, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
HERE = "/calendar/"
GIVEN = {"name": "my phone", "reach": "all", "password": PASSWORD}


@pytest.fixture
def client():
    owner = viewer()
    prove(owner)
    return log_in(owner)


def test_the_address_is_shown_once_and_opens_the_calendar(client):
    action = make_committed()
    assert f'href="{HERE}"' in client.get("/notices/").content.decode()
    assert "No address yet" in client.get(HERE).content.decode()
    answer = client.post(HERE, GIVEN)
    assert "no-store" in answer["Cache-Control"]
    secret = re.search(r"http://testserver/calendar/([\w-]+)\.ics", answer.content.decode())[1]
    assert read(secret).keys() == {f"action-{action.pk}-due"}
    again = client.get(HERE).content.decode()
    assert "my phone" in again
    assert "Last read" in again
    assert ".ics" not in again


def test_what_was_typed_stays_but_the_password_when_it_is_wrong(client):
    answer = client.post(HERE, GIVEN | {"password": "guess"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "isn&#x27;t your password" in page
    assert 'value="my phone"' in page
    assert "guess" not in page
    assert not CalendarKey.objects.exists()


def test_it_is_revoked_from_the_list(client):
    key, secret = make(viewer())
    move = f"/records/calendar_key/{key.pk}/revoke/"
    assert f'href="{move}"' in client.get(HERE).content.decode()
    assert client.post(move)["Location"] == f"{HERE}#calendar_key-{key.pk}"
    assert ask(secret).status_code == 404
    assert f'href="{move}"' not in client.get(HERE).content.decode()


def test_the_addresses_of_others_are_not_listed(client):
    key, _ = make(recorder(), name="somebody else's")
    assert "somebody else" not in client.get(HERE).content.decode()
    assert client.post(f"/records/calendar_key/{key.pk}/revoke/").status_code == 404


def test_a_calendar_is_text_calendar_that_nobody_else_keeps():
    answer = ask(make(viewer())[1])
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "noindex" in answer["X-Robots-Tag"]
    assert not answer.cookies


def test_it_is_sent_again_only_when_it_has_changed():
    secret = make(viewer(), reach="all")[1]
    tag = ask(secret)["ETag"]
    unchanged = ask(secret, **{"If-None-Match": tag})
    assert (unchanged.status_code, unchanged.content) == (304, b"")
    make_committed()
    changed = ask(secret, **{"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed["ETag"] != tag


def test_unknown_revoked_and_of_a_closed_account_are_answered_alike():
    revoked, closed = make(viewer()), make(recorder())
    revoke_key(key_id=revoked[0].pk, actor=viewer())
    owner = recorder()
    owner.is_active = False
    owner.save()
    answers = [ask(secret) for secret in ("wrong", revoked[1], closed[1])]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1


def test_it_can_only_be_read():
    secret = make(viewer())[1]
    for method in ("post", "put", "delete"):
        assert getattr(Client(), method)(f"/calendar/{secret}.ics").status_code == 405
