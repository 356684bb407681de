"""Making, using and revoking access tokens."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from anomalies.clock import now, pretending
from anomalies.models import AccessToken, LedgerEntry, TokenUse
from anomalies.services.access_tokens import LONGEST_DAYS, MOST_TOKENS, make_token, revoke_token, use_token
from anomalies.services.ledger_proof import prove_ledger
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.people import make_stranger, recorder, viewer
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused
from tests.anomalies.tokens import make

pytestmark = pytest.mark.django_db


def test_a_token_opens_for_its_owner_until_it_expires():
    token, secret = make(viewer(), days=2)
    assert token.expires_at - token.made_at == timedelta(days=2)
    assert use_token(secret) == token
    assert use_token(secret).owner == viewer()
    assert use_token(secret + "x") is None
    assert use_token("") is None
    with pretending(token.expires_at):
        assert use_token(secret) is None


def test_no_two_secrets_are_alike_and_each_can_be_told_from_other_text():
    secrets = {make(viewer())[1] for _ in range(5)}
    assert len(secrets) == 5
    assert all(secret.startswith("siftwood_") and len(secret) > 50 for secret in secrets)


def test_the_secret_is_kept_nowhere():
    token, secret = make(viewer())
    kept = [*map(str, AccessToken.objects.values().get(pk=token.pk).values())]
    kept += [str(entry) for entry in LedgerEntry.objects.of("access_token", token.pk).values()]
    assert len(kept) > 5
    assert not any(secret in text for text in kept)


def test_the_ledger_tells_of_making_and_revoking_and_is_whole():
    token, _ = make(viewer())
    revoke_token(token_id=token.pk, actor=viewer())
    entries = LedgerEntry.objects.of("access_token", token.pk)
    assert [entry.action for entry in entries] == ["access_token.make", "access_token.revoke"]
    assert prove_ledger().is_whole


def test_a_revoked_token_opens_nothing_and_stays_revoked():
    token, secret = make(viewer())
    assert revoke_token(token_id=token.pk, actor=viewer()).revoked_at is not None
    assert use_token(secret) is None
    with pytest.raises(WrongState):
        revoke_token(token_id=token.pk, actor=viewer())


def test_nobody_revokes_the_token_of_another():
    token, secret = make(viewer())
    with pytest.raises(NotAllowed):
        revoke_token(token_id=token.pk, actor=recorder())
    assert use_token(secret) == token


def test_a_closed_account_has_no_token_that_opens():
    owner = viewer()
    token, secret = make(owner)
    owner.is_active = False
    owner.save()
    assert use_token(secret) is None
    owner.is_active = True
    owner.save()
    assert use_token(secret) == token


@pytest.mark.parametrize("days", [0, -1, LONGEST_DAYS + 1])
def test_a_token_is_good_for_a_day_to_a_year(days):
    with pytest.raises(BadInput) as caught:
        make(viewer(), days=days)
    assert set(caught.value.fields) == {"days"}
    assert not AccessToken.objects.exists()


@pytest.mark.parametrize("name", ["", "  \n", "x" * 81])
def test_a_token_says_in_a_few_words_what_it_is_for(name):
    with pytest.raises(BadInput) as caught:
        make(viewer(), name=name)
    assert set(caught.value.fields) == {"name"}
    assert not AccessToken.objects.exists()


def test_a_token_is_made_with_the_own_password_given_just_now():
    owner = viewer()
    given = {"actor": owner, "name": "import", "days": 1}
    fresh = prove(owner)
    with pytest.raises(NotAllowed) as caught:
        make_token(**given, proof=replace(fresh, at=now() - timedelta(minutes=6)))
    assert caught.value.code == "password_again"
    with pytest.raises(NotAllowed):
        make_token(**given, proof=prove(recorder()))
    assert not AccessToken.objects.exists()


def test_somebody_without_a_role_may_have_one_that_can_do_as_little():
    token, secret = make(make_stranger())
    assert use_token(secret) == token


def test_only_so_many_can_be_used_at_once():
    tokens = [make(viewer(), days=1)[0] for _ in range(MOST_TOKENS)]
    with refused(Refused, code="too_many"):
        make(viewer())
    make(recorder())  # another's own
    revoke_token(token_id=tokens[0].pk, actor=viewer())
    make(viewer())
    with refused(Refused, code="too_many"):
        make(viewer())
    with pretending(tokens[-1].expires_at):
        make(viewer())


def test_use_is_noted_once_a_minute():
    token, secret = make(viewer())
    assert not TokenUse.objects.exists()
    use_token(secret)
    first = TokenUse.objects.get(token=token).at
    with pretending(first + timedelta(seconds=59)):
        use_token(secret)
    assert TokenUse.objects.get(token=token).at == first
    with pretending(first + timedelta(seconds=60)):
        use_token(secret)
    assert TokenUse.objects.get(token=token).at == first + timedelta(seconds=60)
