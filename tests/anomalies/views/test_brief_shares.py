"""The list of shared briefs, and the page that strangers read."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from anomalies.clock import pretending
from anomalies.models import BriefShare
from anomalies.services.brief_shares import revoke_share
from tests.anomalies.people import activity_lead, make_activity, make_open, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.readiness import make_share, make_signed, make_transfer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
GIVEN = {"audience": "partners' safety panel", "days": "14", "password": PASSWORD}


@pytest.fixture
def client():
    lead = activity_lead()
    prove(lead)
    return log_in(lead)


def read(secret, **headers):
    """What a stranger gets."""
    return Client().get(f"/shared/brief/{secret}/", headers=headers)


def test_it_is_offered_on_the_page_of_the_brief_and_its_address_is_shown_once(client):
    activity = make_signed().activity
    here = f"/readiness/{activity.pk}/brief/shares/"
    assert f'href="{here}"' in client.get(f"/readiness/{activity.pk}/brief/").content.decode()
    assert "No copy yet" in client.get(here).content.decode()
    answer = client.post(here, GIVEN)
    assert "no-store" in answer["Cache-Control"]
    address = re.search(r"http://testserver(/shared/brief/[\w-]+/)", answer.content.decode())[1]
    assert Client().get(address).status_code == 200
    again = client.get(here).content.decode()
    assert "partners&#x27; safety panel" in again
    assert "/shared/brief/" not in again
    assert "Last opened" in again


def test_what_was_typed_stays_but_the_password_when_it_is_wrong(client):
    answer = client.post(f"/readiness/{make_transfer().pk}/brief/shares/", GIVEN | {"password": "guess"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "isn&#x27;t your password" in page
    assert 'value="partners&#x27; safety panel"' in page
    assert "guess" not in page
    assert not BriefShare.objects.exists()


def test_it_is_revoked_from_the_list(client):
    share, secret = make_share()
    here, move = f"/readiness/{share.activity_id}/brief/shares/", f"/records/brief_share/{share.pk}/revoke/"
    assert f'href="{move}"' in client.get(here).content.decode()
    assert client.post(move)["Location"] == f"{here}#brief_share-{share.pk}"
    page = client.get(here).content.decode()
    assert "Revoked" in page
    assert f'href="{move}"' not in page
    assert read(secret).status_code == 404


def test_a_viewer_sees_the_list_and_can_do_nothing(client):
    share, _ = make_share()
    page = log_in(viewer()).get(f"/readiness/{share.activity_id}/brief/shares/").content.decode()
    assert "partners&#x27; safety panel" in page
    assert "Make one" not in page
    assert "Revoke" not in page


def test_a_stranger_reads_the_copy_and_finds_no_way_into_the_service():
    activity = make_activity(kind="transfer", title="Transfer 8")
    make_open(activity_id=activity.pk, title="Coolant wept at the coupling")
    share, secret = make_share(make_signed().activity)
    answer = read(secret)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Brief of Transfer 9" in page
    assert "was signed go" in page
    assert f"{share.made_at:%Y-%m-%d %H:%M}" in page
    assert f"{share.expires_at:%Y-%m-%d %H:%M}" in page
    assert "This is a copy" in page
    assert "decide" in page
    for way in ("<a ", "<form", "<script", "hx-"):
        assert way not in page


def test_it_is_kept_nowhere_and_found_by_nobody():
    _, secret = make_share()
    for answer in (read(secret), read("wrong")):
        assert answer["Cache-Control"] == "no-store"
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer["X-Robots-Tag"]
        assert '<meta name="robots" content="noindex' in answer.content.decode()
        assert "Set-Cookie" not in answer.headers
        assert not answer.cookies


def test_unknown_expired_and_revoked_are_answered_alike():
    expired, revoked = make_share(days=1), make_share()
    revoke_share(share_id=revoked[0].pk, actor=activity_lead())
    answers = [read("wrong"), read(revoked[1])]
    with pretending(expired[0].expires_at):
        answers.append(read(expired[1]))
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert "This address opens no brief" in answers[0].content.decode()


def test_it_can_only_be_read():
    share, secret = make_share()
    for method in ("post", "put", "patch", "delete"):
        assert getattr(Client(), method)(f"/shared/brief/{secret}/").status_code == 405
    assert share.reread().version == 1
