"""Reviews: the poll, what overtakes an answer, the verdict, what makes it stale, and how it recovers."""

from __future__ import annotations

import json
from datetime import timedelta
from hashlib import sha256

import pytest
from django.core.management import call_command
from django.db import connection

from anomalies.clock import now
from anomalies.errors import Missing
from anomalies.models import LedgerEntry, PersonalNotice, PollAnswer, PollPosition, ReadinessSnapshot, SignOff
from anomalies.services.activities import add_activity_hardware, add_crew, edit_activity, start_activity
from anomalies.services.hardware import quarantine_hardware, release_hardware
from anomalies.services.notices import tell_people
from anomalies.services.readiness import (
    answer_poll,
    drop_from_poll,
    open_review,
    resume_review,
    set_position,
    settle_condition,
)
from anomalies.services.readiness_notes import watch_reviews
from anomalies.services.requirements import ask_position, drop_position, withdraw_fulfilment
from anomalies.services.screening import reassess_anomaly
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.actions import make_committed, make_verified
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    make_item,
    make_open,
    make_person,
    recorder,
    safety_engineer,
)
from tests.anomalies.procedures import prove
from tests.anomalies.readiness import (
    answer,
    conclude,
    look,
    make_fulfilment,
    make_requirement,
    make_review,
    make_signed,
    make_transfer,
    standings,
    waive,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def quarantine(item):
    quarantine_hardware(item_id=item.pk, actor=activity_lead(), reason="Leak.")


def with_item(serial="X9"):
    """A transfer that uses an item."""
    activity, item = make_transfer(), make_item(serial)
    add_activity_hardware(activity_id=activity.pk, item_id=item.pk, actor=activity_lead())
    return activity, item


def test_the_standard_positions_are_asked():
    for name in ("Coupling", "Pumps"):
        ask_position(actor=activity_lead(), activity_kind="transfer", name=name)
    drop_position(actor=activity_lead(), activity_kind="transfer", name="Pumps")
    review = open_review(activity_id=make_transfer().pk, actor=activity_lead())
    assert [row.name for row in review.activity.positions.all()] == ["Coupling"]


def test_a_review_is_opened_once_and_for_a_planned_activity():
    review = make_review()
    with refused(Refused, code="open_already"):
        open_review(activity_id=review.activity_id, actor=activity_lead())
    other = make_transfer()
    start_activity(activity_id=other.pk, actor=activity_lead())
    with refused(Refused, code="not_planned"):
        open_review(activity_id=other.pk, actor=activity_lead())


def test_only_who_holds_a_position_speaks_for_it():
    review = make_review()
    lead = activity_lead()
    position = PollPosition.objects.get(activity=review.activity)
    given = {"stand": "go", "text": "", "list_hash": look(review.activity).hash}
    with refused(NotAllowed):
        answer_poll(position_id=position.pk, actor=lead, proof=prove(lead), **given)


@pytest.mark.parametrize("stand", ["condition", "no_go"])
def test_whoever_doesnt_say_go_says_why(stand):
    review = make_review()
    prove(recorder())
    with refused(BadInput):
        answer(review, stand)


def test_an_answer_is_signed_over_the_list():
    review = make_review()
    given = answer(review)
    signed = SignOff.objects.of(review).get()
    assert (signed.signer, signed.meaning) == (recorder(), "Coupling, round 1: Go")
    assert given.noted == look(review.activity).noted


def test_nobody_signs_a_list_they_havent_read():
    activity, item = with_item()
    review = make_review(activity)
    seen = look(activity).hash
    quarantine(item)
    speaker = recorder()
    proof = prove(speaker)
    position = PollPosition.objects.get(activity=activity)
    with refused(Refused, code="list_changed"):
        answer_poll(position_id=position.pk, actor=speaker, stand="go", text="", list_hash=seen, proof=proof)
    assert not PollAnswer.objects.filter(review=review).exists()


def test_go_needs_every_item_and_every_position():
    activity, requirement = make_transfer(), make_requirement()
    review = make_review(activity, "Coupling", "Pumps", "Valves")
    answer(review)
    answer(review, "no_go", "The pump is loud.", "Pumps")
    prove(activity_lead())
    with refused(Missing, code="not_ready") as caught:
        conclude(review)
    said = [gap.text for gap in caught.value.gaps]
    assert said[0].startswith("Open: Rehearsal: Rehearse the chill-down")
    assert said[1:] == ["Pumps says no-go: The pump is loud.", "Valves hasn't answered in this round."]
    make_fulfilment(activity, requirement)
    answer(review, name="Pumps")
    answer(review, name="Valves")
    assert conclude(review).verdict == "go"


def test_go_needs_somebody_who_says_it():
    activity = make_transfer()
    review = open_review(activity_id=activity.pk, actor=activity_lead())
    prove(activity_lead())
    with refused(Missing) as caught:
        conclude(review)
    assert "No position is asked" in caught.value.gaps[0].text


def test_no_go_needs_a_reason_and_nothing_else():
    review = make_review()
    prove(activity_lead())
    with refused(BadInput):
        conclude(review, "no_go")
    assert conclude(review, "no_go", "The tender is late.").reason == "The tender is late."


def test_a_condition_is_an_item_until_it_is_met():
    review = make_review()
    given = answer(review, "condition", "Only with pump B.")
    assert standings(review.activity)[f"condition-{given.pk}"] == "open"
    with pytest.raises(Missing):
        conclude(review)
    settle_condition(answer_id=given.pk, actor=activity_lead(), note="Pump B is fitted.")
    assert conclude(review).verdict == "go"
    with refused(WrongState):
        settle_condition(answer_id=given.pk, actor=activity_lead(), note="Again.")


def test_what_slips_overtakes_a_go_and_a_mend_doesnt_bring_it_back():
    activity, item = with_item()
    review = make_review(activity)
    given = answer(review)
    quarantine(item)
    assert watch_reviews() == 1
    assert given.reread().overtaken_because == f"Was met, is open: {item.type.name}, serial X9"
    release_hardware(item_id=item.pk, actor=activity_lead(), reason="It was another.")
    watch_reviews()
    assert given.reread().overtaken_at is not None
    prove(activity_lead())
    with refused(Missing) as caught:
        conclude(review)
    assert caught.value.gaps[0].text.startswith("Coupling has to answer again")
    answer(review)
    assert conclude(review).verdict == "go"


def test_what_is_mended_overtakes_nothing():
    activity, requirement = make_transfer(), make_requirement()
    review = make_review(activity)
    given = answer(review)
    make_fulfilment(activity, requirement)
    watch_reviews()
    assert given.reread().overtaken_at is None


def test_another_reason_for_what_was_met_overtakes_a_go():
    activity, requirement = make_transfer(), make_requirement()
    done = make_fulfilment(activity, requirement)
    review = make_review(activity)
    given = answer(review)
    withdraw_fulfilment(fulfilment_id=done.pk, actor=recorder(), reason="Another transfer's.")
    make_fulfilment(activity, requirement)
    watch_reviews()
    assert "for another reason" in given.reread().overtaken_because


def test_a_new_open_item_overtakes_a_go_but_not_a_no_go():
    activity = make_transfer()
    review = make_review(activity, "Coupling", "Pumps")
    go, no_go = answer(review), answer(review, "no_go", "Loud.", "Pumps")
    make_requirement()
    watch_reviews()
    assert go.reread().overtaken_because.startswith("New, open: Rehearsal")
    assert no_go.reread().overtaken_at is None


def test_the_snapshot_is_what_was_signed_and_the_ledger_holds_its_hash():
    activity, _ = with_item()
    review = make_signed(activity)
    snapshot = ReadinessSnapshot.objects.get(review=review)
    document = json.loads(snapshot.document)
    assert [item["standing"] for item in document["items"]] == ["met"]
    assert document["poll"][0]["stand"] == "go"
    assert document["items"][0]["record"]["content_hash"] == make_hash(activity)
    entry = LedgerEntry.objects.of("readiness_snapshot", snapshot.pk).get()
    assert entry.changes["document_hash"][1] == sha256(snapshot.document.encode()).hexdigest()


def make_hash(activity):
    """The content hash of the item that it uses."""
    return activity.hardware_uses.get().item.content_hash()


def test_a_snapshot_that_was_tampered_with_is_found():
    make_signed()
    call_command("verify_ledger", verbosity=0)
    snapshot = ReadinessSnapshot.objects.get()
    document = snapshot.document.replace('"verdict":"go"', '"verdict":"no_go"')
    tamper(snapshot.pk, document)
    with pytest.raises(SystemExit):
        call_command("verify_ledger", verbosity=0)


def tamper(pk, document):
    """Change a snapshot behind the service's back."""
    with connection.cursor() as cursor:
        cursor.execute("UPDATE anomalies_readinesssnapshot SET document = %s WHERE id = %s", [document, pk])


def test_a_signed_verdict_goes_stale_and_everybody_who_signed_is_told():
    activity, item = with_item()
    review = make_signed(activity)
    tell_people()
    assert watch_reviews() == 0
    quarantine(item)
    assert watch_reviews() == 1
    stale = review.reread()
    assert stale.state == "signed"
    assert stale.stale_because.startswith("Was met, is open:")
    assert LedgerEntry.objects.of(review.KIND, review.pk).last().actor_name == "system"
    tell_people()
    told = PersonalNotice.objects.filter(kind="readiness_review", text__contains="stale")
    assert {notice.person for notice in told} == {recorder(), activity_lead()}
    assert watch_reviews() == 0


def test_it_recovers_in_another_round():
    activity, item = with_item()
    review = make_signed(activity)
    quarantine(item)
    watch_reviews()
    release_hardware(item_id=item.pk, actor=activity_lead(), reason="Tested.")
    watch_reviews()
    assert review.reread().stale_since is not None  # mended isn't signed
    again = resume_review(review_id=review.pk, actor=activity_lead(), reason="The item is back.")
    assert (again.round, again.verdict, again.stale_since) == (2, "", None)
    with pytest.raises(Missing):
        conclude(again)
    answer(again)
    assert conclude(again).round == 2
    assert ReadinessSnapshot.objects.filter(review=review).count() == 2


def test_the_poll_stays_as_it_was_once_a_round_has_ended():
    review = make_signed()
    with refused(Refused, code="round_ended"):
        set_position(activity_id=review.activity_id, actor=activity_lead(), name="Late", person_id=None)
    with refused(Refused, code="round_ended"):
        drop_from_poll(activity_id=review.activity_id, actor=activity_lead(), name="Coupling")


def test_a_position_that_is_dropped_isnt_waited_for():
    review = make_review(None, "Coupling", "Pumps")
    answer(review)
    drop_from_poll(activity_id=review.activity_id, actor=activity_lead(), name="Pumps")
    assert conclude(review).verdict == "go"


def test_an_activity_that_began_isnt_watched():
    activity, item = with_item()
    review = make_signed(activity)
    start_activity(activity_id=activity.pk, actor=activity_lead())
    quarantine(item)
    assert watch_reviews() == 0
    assert review.reread().stale_since is None


def test_a_requirement_of_the_crew_is_asked_of_each():
    activity = make_transfer()
    row = make_requirement(scope="crew", role="EV1")
    ann, bob = make_person("recorder", "ann"), make_person("recorder", "bob")
    for person, role in ((ann, "EV1"), (bob, "EV2")):
        add_crew(activity_id=activity.pk, person_id=person.pk, role=role, actor=activity_lead())
    assert standings(activity) == {f"requirement-{row.pk}-person-{ann.pk}": "open"}


def test_a_waiver_accepts_what_was_there_and_nothing_worse():
    activity, item = with_item()
    anomaly = make_open(hardware_ids=[item.pk])
    key = f"anomaly-{anomaly.pk}"
    waive(activity, key)
    assert standings(activity)[key] == "accepted"
    given = {"severity": 1, "probability": "B", "rationale": "It is on both suits."}
    reassess_anomaly(anomaly_id=anomaly.pk, actor=safety_engineer(), **given)
    found = next(each for each in look(activity).items if each.key == key)
    assert found.is_open
    assert "isn't any more what the waiver" in found.because


def test_a_waiver_that_carries_holds_for_what_comes_after_and_not_before():
    early, requirement = make_transfer(), make_requirement()
    late = make_transfer(planned_start=SEEN_AT + timedelta(days=9), planned_end=SEEN_AT + timedelta(days=10))
    key = f"requirement-{requirement.pk}"
    waive(late, key, carries=True)
    assert standings(early)[key] == "open"
    waive(early, key, carries=True)
    last = make_transfer(planned_start=SEEN_AT + timedelta(days=20), planned_end=SEEN_AT + timedelta(days=21))
    assert standings(last)[key] == "accepted"


def test_what_an_earlier_one_needed_and_never_got_is_needed_still():
    early = make_transfer()
    late = make_transfer(planned_start=SEEN_AT + timedelta(days=9), planned_end=SEEN_AT + timedelta(days=10))
    owed = make_committed(needed_before_id=early.pk)
    done = make_verified(needed_before_id=early.pk)
    assert standings(late)[f"action-{owed.pk}"] == "open"
    assert f"action-{done.pk}" not in standings(late)
    assert standings(early)[f"action-{done.pk}"] == "met"


def test_no_verdict_is_signed_once_the_activity_has_begun():
    review = make_review()
    start_activity(activity_id=review.activity_id, actor=activity_lead())
    prove(activity_lead())
    with refused(Refused, code="not_planned"):
        conclude(review, "no_go", "Too late.")


def test_whoever_accepted_an_item_is_told_too():
    activity, item = with_item()
    requirement = make_requirement()
    waive(activity, f"requirement-{requirement.pk}")
    review = make_signed(activity)
    tell_people()
    quarantine(item)
    watch_reviews()
    tell_people()
    told = PersonalNotice.objects.filter(kind=review.KIND, text__contains="stale")
    assert {notice.person for notice in told} == {recorder(), activity_lead(), safety_engineer()}


def test_a_waived_item_comes_back_when_the_waiver_is_too_short():
    activity, requirement = make_transfer(planned_end=now() + timedelta(days=3)), make_requirement()
    key = f"requirement-{requirement.pk}"
    waive(activity, key, expires_at=now() + timedelta(days=4))
    assert standings(activity) == {key: "accepted"}
    activity = activity.reread()
    changes = {"planned_end": now() + timedelta(days=5)}
    edit_activity(activity_id=activity.pk, actor=activity_lead(), version=activity.version, changes=changes)
    (item,) = look(activity).items
    assert item.is_open
    assert "before the activity ends" in item.because
