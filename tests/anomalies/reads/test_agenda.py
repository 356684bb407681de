"""The agenda: what is open is on it, what isn't is not; each item says what is asked and of whom."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from anomalies.clock import now, pretending
from anomalies.people import name_of
from anomalies.reads.meetings.agenda import SOON, read_agenda
from anomalies.reads.meetings.frozen import load_agenda, write_agenda
from anomalies.reads.meetings.item import KINDS, list_names
from anomalies.services.activities import scrub_activity
from anomalies.services.causes import rule_out_cause
from anomalies.services.findings import adopt_finding, edit_finding, state_position
from anomalies.services.screening import dismiss_anomaly
from anomalies.services.waivers import withdraw_waiver
from tests.anomalies.actions import make_committed, make_done, make_proposed, owner, verifier, verify
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause, make_confirmed, make_finding, seat, second_member
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_draft,
    make_open,
    make_person,
    make_reported,
    make_stranger,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import prove
from tests.anomalies.readiness import make_requirement, make_review, make_signed, make_waiver
from tests.anomalies.services.test_every_move import accept

pytestmark = pytest.mark.django_db


def group(name):
    """Record of each item of a group -> (what is asked, who owes it)."""
    return {(item.kind, item.key): (item.asked, item.owed_by) for item in read_agenda().items if item.group == name}


def test_nothing_is_on_it_where_nothing_is_open():
    make_draft()
    assert read_agenda().items == ()


def test_a_report_awaits_screening_until_it_is_screened_or_dismissed():
    engineer, report = safety_engineer(), make_reported()
    assert group("screening") == {("anomaly", report.pk): ("Screen it, or dismiss it.", name_of(engineer))}
    dismiss_anomaly(anomaly_id=report.pk, actor=engineer, reason="A reflection.")
    assert read_agenda().items == ()


def test_an_open_anomaly_without_a_cause_is_on_it_until_one_is_confirmed_or_its_risk_accepted():
    anomaly = make_open()
    (told,) = group("unexplained").values()
    assert told[1] == name_of(anomaly.lead)
    make_confirmed(anomaly)
    assert group("unexplained") == {}
    assert ("anomaly", anomaly.pk) in group("closure")
    given_up = make_open()
    accept(given_up, safety_engineer())
    assert group("unexplained") == {}
    assert group("closure")["anomaly", given_up.pk] == (
        "Nothing keeps it open: it can be closed.",
        name_of(safety_engineer()),
    )


def test_a_finding_names_those_who_have_not_spoken_on_this_wording_and_counts_dissent():
    anomaly, member, second = make_open(), board_member(), second_member()
    seat(anomaly, member, second)
    finding = make_finding(anomaly)
    key = ("finding", finding.pk)
    assert group("finding")[key] == ("State a position on it.", f"{name_of(member)}, {name_of(second)}")
    state_position(finding_id=finding.pk, actor=second, stand="dissents", wording=1, text="Not tried.")
    assert group("finding")[key] == ("State a position on it. 1 dissent on record.", name_of(member))
    state_position(finding_id=finding.pk, actor=member, stand="concurs", wording=1)
    assert (
        group("finding")[key][0] == "Everybody on its board has spoken: adopt it, or withdraw it. 1 dissent on record."
    )
    edit_finding(
        finding_id=finding.pk, actor=member, version=finding.reread().version, changes={"statement": "It wept."}
    )
    assert group("finding")[key] == ("State a position on it.", f"{name_of(member)}, {name_of(second)}")
    for person in (member, second):
        state_position(finding_id=finding.pk, actor=person, stand="concurs", wording=2)
    row = finding.reread()
    adopt_finding(finding_id=row.pk, actor=member, version=row.version, proof=prove(member))
    assert group("finding") == {}


def test_a_cause_is_on_it_until_it_is_judged():
    cause = make_cause()
    assert group("cause") == {
        ("cause", cause.pk): ("Find it credible, rule it out, or confirm it.", name_of(cause.anomaly.lead))
    }
    evidence = make_evidence(cause.anomaly)
    rule_out_cause(
        cause_id=cause.pk, actor=board_member(), version=cause.version, rationale="Held.", evidence_ids=[evidence.pk]
    )
    assert group("cause") == {}


def test_an_action_is_on_it_when_overdue_and_when_done():
    make_proposed()
    late = make_committed()
    assert group("action") == {}
    with pretending(now() + timedelta(days=8)):
        ((asked, owes),) = group("action").values()
        assert f"{late.due_on:%Y-%m-%d}" in asked
        assert owes == name_of(owner())


def test_who_did_an_action_does_not_owe_its_verification():
    person = verifier()
    action = make_done()
    assert group("action")["action", action.pk] == ("It is done: have it verified by somebody else.", name_of(person))
    verify(action)
    assert group("action") == {}


def test_gaps_of_a_closure_are_told():
    cause = make_confirmed()
    asked, owes = group("closure")["anomaly", cause.anomaly_id]
    assert asked.startswith("Before it can be closed: No verified action addresses C1")
    assert owes == name_of(cause.anomaly.lead)


def test_a_waiver_is_on_it_from_two_weeks_before_it_expires_until_it_is_withdrawn():
    waiver = make_waiver(expires_at=now() + timedelta(days=30))
    assert group("waiver") == {}
    with pretending(waiver.expires_at - SOON - timedelta(seconds=1)):
        assert group("waiver") == {}
    with pretending(waiver.expires_at - SOON):
        assert group("waiver")["waiver", waiver.pk][0].startswith("It expires on ")
    with pretending(waiver.expires_at):
        assert group("waiver")["waiver", waiver.pk][0].startswith("It expired on ")
        withdraw_waiver(waiver_id=waiver.pk, actor=safety_engineer(), reason="Mended.")
        assert group("waiver") == {}


def test_a_waiver_of_an_activity_that_is_off_is_not_on_it():
    waiver = make_waiver(expires_at=now() + timedelta(days=30))
    scrub_activity(activity_id=waiver.activity_id, actor=activity_lead(), reason="Wind.")
    with pretending(waiver.expires_at - timedelta(days=1)):
        assert group("waiver") == {}


def test_a_review_is_on_it_while_under_way_and_when_stale():
    review = make_review()
    asked, owes = group("review")["readiness_review", review.pk]
    assert asked.startswith("Round 1 is under way, 0 items open.")
    assert owes == name_of(review.activity.lead)


def test_a_signed_review_is_on_it_once_it_is_stale():
    review = make_signed()
    assert group("review") == {}
    make_requirement(statement="Rehearse again")
    assert group("review")["readiness_review", review.pk][0].startswith("What was signed doesn't hold any more")
    activity = review.activity.reread()
    scrub_activity(activity_id=activity.pk, actor=activity_lead(), reason="Wind.")
    assert group("review") == {}


def test_each_reads_what_they_may_see():
    make_reported()
    make_done()
    agenda = read_agenda()
    assert [each.kind for each in agenda.groups_for(viewer())] == list(KINDS)
    assert agenda.groups_for(make_stranger()) == []


def test_it_is_kept_as_it_was():
    make_reported()
    make_confirmed()
    agenda = read_agenda()
    kept = load_agenda(write_agenda(agenda))
    assert kept == agenda
    assert load_agenda("") is None
    make_reported(title="Another")
    assert kept == agenda
    (new,) = read_agenda().without(kept).items
    assert new.about.endswith("Another")
    assert kept.without(read_agenda()).items == ()


def test_of_many_names_some_are_left_out_and_counted():
    people = [make_person("verifier", f"verifier-{number}") for number in range(6)]
    assert list_names(people).endswith("and 2 more")
    assert list_names([], nobody="nobody") == "nobody"


def test_more_reports_cost_no_more_queries():
    make_reported()
    with CaptureQueriesContext(connection) as few:
        read_agenda()
    for number in range(5):
        make_reported(title=f"Report {number}")
    with CaptureQueriesContext(connection) as many:
        read_agenda()
    assert len(many) == len(few)
