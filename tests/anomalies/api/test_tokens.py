"""A program with an access token: it may what its owner may, and shut out it learns nothing."""

from __future__ import annotations

import pytest
from django.test import Client

from anomalies.clock import pretending
from anomalies.models import LedgerEntry
from anomalies.services.access_tokens import revoke_token
from anomalies.services.findings import state_position
from tests.anomalies.api.test_operations import API, PLAN, send
from tests.anomalies.investigation import make_finding, seat
from tests.anomalies.people import activity_lead, board_member, make_open, make_stranger, recorder, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.tokens import make, program
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
SHUT_OUT = {"code", "message", "fields"}


def made(client, **changes):
    return send(client, "tokens/", **{"name": "import", "days": 30, "password": PASSWORD} | changes)


def test_a_program_reads_and_writes_in_the_name_of_its_owner():
    lead = activity_lead()
    client = program(make(lead)[1])
    assert client.get(f"{API}/activities/").json()["count"] == 0
    answer = send(client, "activities/", **PLAN, lead_id=lead.pk, tasks=["Look"])
    assert answer.status_code == 201
    assert LedgerEntry.objects.of("activity", answer.json()["id"]).get().actor == lead


def test_it_may_no_more_than_its_owner():
    assert send(program(make(viewer())[1]), "activities/", **PLAN).status_code == 403
    assert program(make(make_stranger())[1]).get(f"{API}/anomalies/").status_code == 403


def test_the_scheme_is_read_in_any_case_of_letters():
    secret = make(viewer())[1]
    for scheme in ("bearer", "BEARER"):
        answer = Client().get(f"{API}/anomalies/", headers={"Authorization": f"{scheme} {secret}"})
        assert answer.status_code == 200


def shut_out(headers):
    """The answer to a request that must not be let in."""
    answer = Client().get(f"{API}/anomalies/", headers=headers)
    assert (answer.status_code, answer["WWW-Authenticate"]) == (401, "Bearer")
    assert answer.json().keys() == SHUT_OUT
    return answer.json()["code"]


def test_nobody_is_let_in_without_a_token_or_a_session():
    make_open()
    assert shut_out({}) == "not_authenticated"
    assert shut_out({"Authorization": "Basic dmlld2VyOng="}) == "not_authenticated"


@pytest.mark.parametrize("sent", ["Bearer", "Bearer ", "Bearer a b", "Bearer siftwood_x", "Bearer \xff\xfe"])
def test_what_is_no_token_is_refused(sent):
    assert shut_out({"Authorization": sent}) == "bad_token"


def test_a_bad_token_is_refused_beside_a_good_session():
    answer = log_in(viewer()).get(f"{API}/anomalies/", headers={"Authorization": "Bearer siftwood_x"})
    assert answer.status_code == 401


def test_a_revoked_an_expired_and_a_closed_account_s_token_are_refused_alike():
    owner = viewer()
    revoked, expired, closed = make(owner), make(owner, days=1), make(recorder())
    revoke_token(token_id=revoked[0].pk, actor=owner)
    assert shut_out({"Authorization": f"Bearer {revoked[1]}"}) == "bad_token"
    with pretending(expired[0].expires_at):
        assert shut_out({"Authorization": f"Bearer {expired[1]}"}) == "bad_token"
    person = recorder()
    person.is_active = False
    person.save()
    assert shut_out({"Authorization": f"Bearer {closed[1]}"}) == "bad_token"


def test_a_token_opens_no_page():
    answer = program(make(viewer())[1]).get("/log/")
    assert (answer.status_code, answer["Location"]) == (302, "/login/?next=/log/")


def test_signing_still_needs_the_password():
    anomaly, member = make_open(), board_member()
    seat(anomaly, member)
    finding = make_finding(anomaly)
    state_position(finding_id=finding.pk, actor=member, stand="concurs", wording=1)
    client = program(make(member)[1])
    here = f"findings/{finding.pk}/"
    version = client.get(f"{API}/{here}").json()["version"]
    assert send(client, f"{here}adopt/", version=version).json()["fields"].keys() == {"password"}
    wrong = send(client, f"{here}adopt/", version=version, password="guess")
    assert (wrong.status_code, wrong.json()["code"]) == (400, "wrong_password")
    assert send(client, f"{here}adopt/", version=version, password=PASSWORD).json()["state"] == "adopted"


def test_a_token_is_made_listed_used_and_revoked_through_the_api():
    owner = viewer()
    prove(owner)
    client = log_in(owner)
    answer = made(client)
    assert (answer.status_code, answer["Cache-Control"]) == (201, "no-store")
    token, secret = answer.json()["token"], answer.json()["secret"]
    assert (token["name"], token["state"], token["last_used_at"], token["moves"]) == (
        "import",
        "usable",
        None,
        ["revoke"],
    )
    with_it = program(secret)
    assert with_it.get(f"{API}/tokens/").json()["results"][0]["last_used_at"] is not None
    assert secret not in client.get(f"{API}/tokens/").content.decode()
    assert send(with_it, f"tokens/{token['id']}/revoke/").json()["state"] == "revoked"  # it may put itself out of use
    assert with_it.get(f"{API}/tokens/").status_code == 401
    assert client.get(f"{API}/tokens/{token['id']}/").json()["moves"] == []
    assert send(client, f"tokens/{token['id']}/revoke/").json()["code"] == "wrong_state"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"days": 0}, "days"),
        ({"days": 367}, "days"),
        ({"days": "many"}, "days"),
        ({"name": ""}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"password": "guess"}, "password"),
    ],
)
def test_what_can_not_be_made_is_refused_by_field(wrong, field):
    owner = viewer()
    prove(owner)
    answer = made(log_in(owner), **wrong)
    assert (answer.status_code, answer.json()["fields"].keys()) == (400, {field})


def test_the_tokens_of_others_are_out_of_sight():
    token, _ = make(viewer())
    other = log_in(recorder())
    assert other.get(f"{API}/tokens/").json()["count"] == 0
    assert other.get(f"{API}/tokens/{token.pk}/").status_code == 404
    assert send(other, f"tokens/{token.pk}/revoke/").status_code == 404
    assert other.get(f"{API}/records/access_token/{token.pk}/history/").status_code == 404
    assert log_in(viewer()).get(f"{API}/records/access_token/{token.pk}/history/").status_code == 200
