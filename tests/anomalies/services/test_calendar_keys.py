"""Making, using and revoking addresses of a calendar."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from anomalies.clock import now, pretending
from anomalies.models import CalendarKey, CalendarUse, LedgerEntry
from anomalies.services.calendar_keys import MOST_KEYS, make_key, revoke_key, use_key
from anomalies.services.ledger_proof import prove_ledger
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.calendars import make
from tests.anomalies.people import make_stranger, recorder, viewer
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def test_a_key_opens_until_it_is_revoked():
    key, secret = make(viewer())
    assert use_key(secret) == key
    assert use_key(secret + "x") is None
    assert revoke_key(key_id=key.pk, actor=viewer()).revoked_at is not None
    assert use_key(secret) is None
    with pytest.raises(WrongState):
        revoke_key(key_id=key.pk, actor=viewer())


def test_a_closed_account_closes_the_calendar():
    owner = viewer()
    _, secret = make(owner)
    owner.is_active = False
    owner.save()
    assert use_key(secret) is None


def test_the_secret_is_kept_nowhere_and_the_ledger_is_whole():
    key, secret = make(viewer())
    revoke_key(key_id=key.pk, actor=viewer())
    kept = [*map(str, CalendarKey.objects.values().get(pk=key.pk).values())]
    kept += [str(entry) for entry in LedgerEntry.objects.of("calendar_key", key.pk).values()]
    assert len(kept) > 8
    assert not any(secret in text for text in kept)
    entries = LedgerEntry.objects.of("calendar_key", key.pk)
    assert [entry.action for entry in entries] == ["calendar_key.make", "calendar_key.revoke"]
    assert prove_ledger().is_whole


def test_nobody_revokes_for_another():
    key, _ = make(viewer())
    for other in (recorder(), make_stranger()):
        with refused(NotAllowed):
            revoke_key(key_id=key.pk, actor=other)


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"name": " "}, "name"), ({"name": "x" * 81}, "name"), ({"reach": "others"}, "reach"), ({"reach": ""}, "reach")],
)
def test_what_can_not_be_made_is_refused_by_field(changes, field):
    owner = viewer()
    given = {"actor": owner, "name": "phone", "reach": "mine", "proof": prove(owner)} | changes
    with refused(BadInput) as caught:
        make_key(**given)
    assert caught.value.fields.keys() == {field}


def test_an_old_or_a_borrowed_password_makes_nothing():
    owner = viewer()
    old = replace(prove(owner), at=now() - timedelta(hours=1))
    for proof in (old, prove(recorder())):
        with refused(NotAllowed):
            make_key(actor=owner, name="phone", reach="mine", proof=proof)


def test_one_too_many_is_refused_until_one_is_revoked():
    owner = viewer()
    keys = [make(owner)[0] for _ in range(MOST_KEYS)]
    given = {"actor": owner, "name": "phone", "reach": "mine", "proof": prove(owner)}
    with refused(Refused, code="too_many"):
        make_key(**given)
    revoke_key(key_id=keys[0].pk, actor=owner)
    assert make_key(**given)[0].state == "usable"


def test_use_is_noted_once_a_minute_at_most():
    key, secret = make(viewer())
    start, seen = now(), []
    for seconds in (0, 59, 61):
        with pretending(start + timedelta(seconds=seconds)):
            use_key(secret)
        seen.append((CalendarUse.objects.get(key=key).at - start).total_seconds())
    assert seen == [0, 0, 61]
