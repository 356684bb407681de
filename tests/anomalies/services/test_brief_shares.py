"""Sharing a brief by an address, opening it and revoking it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import pytest

from anomalies.clock import now, pretending
from anomalies.models import BriefShare, BriefShareUse, LedgerEntry
from anomalies.reads.brief.build import read_brief
from anomalies.services.activities import edit_activity
from anomalies.services.brief_shares import LONGEST_DAYS, MOST_SHARES, open_share, revoke_share, share_brief
from anomalies.services.ledger_proof import prove_ledger
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.people import activity_lead, recorder, safety_engineer
from tests.anomalies.procedures import prove
from tests.anomalies.readiness import make_share, make_transfer
from tests.anomalies.refusals import refused
from tests.anomalies.tampering import execute

pytestmark = pytest.mark.django_db


def test_it_opens_until_it_expires():
    share, secret = make_share(days=2)
    assert share.expires_at - share.made_at == timedelta(days=2)
    assert open_share(secret) == share
    assert open_share(secret + "x") is None
    assert open_share("") is None
    with pretending(share.expires_at - timedelta(seconds=1)):
        assert open_share(secret) == share
    with pretending(share.expires_at):
        assert open_share(secret) is None


def test_it_is_the_brief_of_that_moment_and_stays_so():
    activity = make_transfer()
    with pretending(now()):
        share, secret = make_share(activity)
        assert json.loads(share.document) == json.loads(json.dumps(read_brief(activity).as_json()))
    changes = {"title": "Transfer 10"}
    edit_activity(activity_id=activity.pk, actor=activity_lead(), version=activity.version, changes=changes)
    assert json.loads(open_share(secret).document)["activity"]["title"] == "Transfer 9"
    assert read_brief(activity.reread()).activity == "Transfer 10"


def test_the_secret_is_kept_nowhere():
    share, secret = make_share()
    kept = [*map(str, BriefShare.objects.values().get(pk=share.pk).values())]
    kept += [str(entry) for entry in LedgerEntry.objects.of("brief_share", share.pk).values()]
    assert len(secret) > 40
    assert len(kept) > 10
    assert not any(secret in text for text in kept)


def test_the_ledger_tells_of_making_and_revoking_and_notices_another_document():
    share, _ = make_share()
    revoke_share(share_id=share.pk, actor=safety_engineer())
    entries = LedgerEntry.objects.of("brief_share", share.pk)
    assert [entry.action for entry in entries] == ["brief_share.make", "brief_share.revoke"]
    assert "document_hash" in entries[0].changes
    assert "document" not in entries[0].changes
    assert prove_ledger().is_whole
    text = share.document.replace("Transfer", "Transfers")
    execute("UPDATE anomalies_briefshare SET document = %s WHERE id = %s", text, share.pk)
    assert not prove_ledger().is_whole


def test_revoked_it_opens_nothing_and_stays_revoked():
    share, secret = make_share()
    assert revoke_share(share_id=share.pk, actor=activity_lead()).revoked_at is not None
    assert open_share(secret) is None
    with pytest.raises(WrongState):
        revoke_share(share_id=share.pk, actor=activity_lead())


def test_a_closed_account_closes_what_it_shared():
    _, secret = make_share()
    lead = activity_lead()
    lead.is_active = False
    lead.save()
    assert open_share(secret) is None


def test_others_may_neither_share_nor_revoke():
    share, _ = make_share()
    person = recorder()
    given = {"audience": "All", "days": 1, "proof": prove(person)}
    with refused(NotAllowed):
        share_brief(activity_id=share.activity_id, actor=person, **given)
    with refused(NotAllowed):
        revoke_share(share_id=share.pk, actor=person)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"days": 0}, "days"),
        ({"days": LONGEST_DAYS + 1}, "days"),
        ({"audience": "  "}, "audience"),
        ({"audience": "x" * 121}, "audience"),
    ],
)
def test_what_can_not_be_made_is_refused_by_field(changes, field):
    activity, lead = make_transfer(), activity_lead()
    given = {"audience": "Panel", "days": 1, "proof": prove(lead)} | changes
    with refused(BadInput) as caught:
        share_brief(activity_id=activity.pk, actor=lead, **given)
    assert caught.value.fields.keys() == {field}


def test_an_old_or_a_borrowed_password_shares_nothing():
    activity, lead = make_transfer(), activity_lead()
    given = {"activity_id": activity.pk, "actor": lead, "audience": "Panel", "days": 1}
    old = replace(prove(lead), at=now() - timedelta(hours=1))
    with refused(NotAllowed):
        share_brief(**given, proof=old)
    with refused(NotAllowed):
        share_brief(**given, proof=prove(safety_engineer()))


def test_one_too_many_is_refused_until_one_is_revoked():
    activity = make_transfer()
    shares = [make_share(activity)[0] for _ in range(MOST_SHARES)]
    make_share(make_transfer(title="Transfer 10"))
    lead = activity_lead()
    given = {"activity_id": activity.pk, "actor": lead, "audience": "Panel", "days": 1, "proof": prove(lead)}
    with refused(Refused, code="too_many"):
        share_brief(**given)
    revoke_share(share_id=shares[0].pk, actor=lead)
    assert share_brief(**given)[0].state == "usable"


def test_opening_is_noted_once_a_minute_at_most():
    share, secret = make_share()
    start = now()
    seen = []
    for seconds in (0, 30, 59, 61):
        with pretending(start + timedelta(seconds=seconds)):
            open_share(secret)
        seen.append((BriefShareUse.objects.get(share=share).at - start).total_seconds())
    assert seen == [0, 0, 0, 61]
