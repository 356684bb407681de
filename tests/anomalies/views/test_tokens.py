"""The page of a person's access tokens."""

from __future__ import annotations

import re

import pytest

from anomalies.clock import pretending
from anomalies.models import AccessToken
from anomalies.services.access_tokens import MOST_TOKENS, use_token
from tests.anomalies.people import recorder, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.tokens import make
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
HERE = "/tokens/"
GIVEN = {"name": "telemetry import", "days": "30", "password": PASSWORD}


@pytest.fixture
def client():
    owner = viewer()
    prove(owner)
    return log_in(owner)


def test_without_a_token_the_page_says_what_one_is_for(client):
    page = client.get(HERE).content.decode()
    assert "No token yet" in page
    assert HERE in client.get("/notices/").content.decode()


def test_the_secret_is_shown_by_the_answer_and_never_again(client):
    answer = client.post(HERE, GIVEN)
    assert "no-store" in answer["Cache-Control"]
    secret = re.search(r"siftwood_[\w-]+", answer.content.decode())[0]
    assert use_token(secret).name == "telemetry import"
    again = client.get(HERE).content.decode()
    assert "telemetry import" in again
    assert "siftwood_" not in again


def test_what_was_typed_stays_but_the_password_when_it_is_wrong(client):
    answer = client.post(HERE, GIVEN | {"password": "guess"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "isn&#x27;t your password" in page
    assert 'value="telemetry import"' in page
    assert "guess" not in page
    assert not AccessToken.objects.exists()


def test_one_too_many_is_refused_with_the_mend(client):
    for _ in range(MOST_TOKENS):
        make(viewer())
    answer = client.post(HERE, GIVEN)
    assert "revoke one first" in answer.content.decode()
    assert AccessToken.objects.count() == MOST_TOKENS


def test_a_token_is_revoked_from_the_list(client):
    token, secret = make(viewer())
    move = f"/records/access_token/{token.pk}/revoke/"
    assert f'href="{move}"' in client.get(HERE).content.decode()
    assert client.post(move)["Location"] == f"{HERE}#access_token-{token.pk}"
    page = client.get(HERE).content.decode()
    assert "Revoked" in page
    assert f'href="{move}"' not in page
    assert use_token(secret) is None


def test_an_expired_token_is_called_so_and_offers_nothing(client):
    token, _ = make(viewer())
    with pretending(token.expires_at):
        page = client.get(HERE).content.decode()
    assert "Expired" in page
    assert f"/records/access_token/{token.pk}/revoke/" not in page


def test_the_tokens_of_others_are_not_listed(client):
    token, _ = make(recorder(), name="somebody else's")
    assert "somebody else" not in client.get(HERE).content.decode()
    assert client.post(f"/records/access_token/{token.pk}/revoke/").status_code == 404
