"""What stands in a person's calendar, read with the library `icalendar`, which is held to RFC 5545."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from icalendar import Calendar

from anomalies.clock import now, pretending
from anomalies.models import Activity, LedgerEntry
from anomalies.reads.calendar_file import write_calendar
from anomalies.reads.dates import KEPT_AFTER, Entry, read_dates
from anomalies.services.actions import recommit_action
from anomalies.services.activities import (
    add_activity_hardware,
    add_crew,
    complete_activity,
    edit_activity,
    scrub_activity,
    start_activity,
)
from anomalies.services.hardware import install_hardware
from anomalies.services.meetings import open_meeting
from anomalies.services.readiness_notes import watch_reviews
from anomalies.services.waivers import withdraw_waiver
from tests.anomalies import calendars
from tests.anomalies.actions import make_committed, make_done, make_verified, next_week, owner, verifier
from tests.anomalies.meetings import end, make_cancelled, make_meeting
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    board_member,
    make_activity,
    make_item,
    make_person,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.readiness import make_requirement, make_review, make_signed, make_transfer, make_waiver

pytestmark = pytest.mark.django_db


def keys(person, reach="mine"):
    """What stands in the calendar."""
    return {each.key for each in read_dates(person, reach)}


def test_an_action_is_due_on_its_day_for_its_owner():
    action = make_committed()
    event = calendars.read(calendars.make(owner())[1])[f"action-{action.pk}-due"]
    assert event["dtstart"].dt == next_week()
    assert "dtend" not in event
    assert event["summary"] == f"Due: {action}"
    assert event["sequence"] == action.reread().version
    assert event["transp"] == "TRANSPARENT"
    assert keys(board_member()) == set()
    assert keys(viewer(), "all") == {f"action-{action.pk}-due"}


def test_a_moved_action_keeps_its_uid_and_has_a_higher_sequence():
    action, secret = make_committed(), calendars.make(owner())[1]
    before = calendars.read(secret)[f"action-{action.pk}-due"]
    day = next_week() + timedelta(days=3)
    version = action.reread().version
    given = {"action_id": action.pk, "actor": board_member(), "version": version, "owner_id": owner().pk}
    recommit_action(**given, due_on=day, reason="The part is late.")
    after = calendars.read(secret)[f"action-{action.pk}-due"]
    assert after["uid"] == before["uid"]
    assert after["sequence"] > before["sequence"]
    assert after["dtstart"].dt == day


def test_what_is_done_waits_for_those_who_may_verify_it():
    action = make_done()
    assert keys(owner()) == set()
    assert keys(verifier()) == {f"action-{action.pk}-verify"}
    event = calendars.read(calendars.make(verifier())[1])[f"action-{action.pk}-verify"]
    assert event["dtstart"].dt == next_week()
    assert "action owner" in event["description"] or "action-owner" in event["description"]


def test_what_is_verified_is_owed_no_more():
    make_verified()
    assert not any(key.startswith("action") for key in keys(viewer(), "all"))


def test_an_activity_blocks_its_time_for_its_lead_its_crew_and_who_speaks():
    activity = make_activity()
    add_crew(activity_id=activity.pk, person_id=recorder().pk, role="EV1", actor=activity_lead())
    named = f"activity-{activity.pk}"
    assert keys(activity_lead()) == {named, f"readiness-{activity.pk}"}
    assert keys(recorder()) == {named}
    assert keys(viewer()) == set()
    event = calendars.read(calendars.make(recorder())[1])[named]
    assert (event["dtstart"].dt, event["dtend"].dt) == (SEEN_AT, SEEN_AT + timedelta(hours=7))
    assert event["dtstart"].to_ical() == b"20240305T093000Z"
    assert event["transp"] == "OPAQUE"
    assert "Inspect the coupling" in event["description"]


def test_an_activity_that_is_over_or_scrubbed_is_left_out():
    lead = activity_lead()
    under_way, over, scrubbed = (make_activity(title=title) for title in ("Sortie 7", "Sortie 8", "Sortie 9"))
    for each in (under_way, over):
        start_activity(activity_id=each.pk, actor=lead, at=SEEN_AT)
    complete_activity(activity_id=over.pk, actor=lead)
    scrub_activity(activity_id=scrubbed.pk, actor=lead, reason="Weather.")
    assert keys(lead) == {f"activity-{under_way.pk}"}


def test_an_activity_that_began_after_it_should_have_ended_is_still_a_calendar():
    activity = make_activity()
    start_activity(activity_id=activity.pk, actor=activity_lead(), at=SEEN_AT + timedelta(hours=9))
    event = calendars.read(calendars.make(activity_lead())[1])[f"activity-{activity.pk}"]
    assert event["dtstart"].dt == SEEN_AT + timedelta(hours=9)
    assert "dtend" not in event


def test_readiness_is_to_be_signed_until_it_is():
    open_, waits, signed = make_transfer(), make_review().activity, make_signed().activity
    found = calendars.read(calendars.make(activity_lead())[1])
    assert f"readiness-{signed.pk}" not in found
    assert "No readiness review is open" in found[f"readiness-{open_.pk}"]["description"]
    event = found[f"readiness-{waits.pk}"]
    assert "Round 1 of the review is under way" in event["description"]
    assert event["dtstart"].dt == waits.planned_start
    assert f"readiness-{waits.pk}" in keys(recorder())
    assert f"readiness-{open_.pk}" not in keys(recorder())


def test_a_stale_verdict_is_to_be_signed_again():
    signed = make_signed()
    assert f"readiness-{signed.activity_id}" not in keys(activity_lead())
    make_requirement()
    watch_reviews()
    text = next(each.text for each in read_dates(activity_lead(), "mine") if each.key.startswith("readiness"))
    assert "is stale" in text


def test_a_waiver_stands_on_the_moment_it_expires():
    waiver = make_waiver()
    event = calendars.read(calendars.make(safety_engineer())[1])[f"waiver-{waiver.pk}"]
    assert event["dtstart"].dt == waiver.expires_at.replace(microsecond=0)
    assert waiver.reason in event["description"]
    assert f"waiver-{waiver.pk}" in keys(activity_lead())
    assert f"waiver-{waiver.pk}" not in keys(recorder())
    with pretending(waiver.expires_at + KEPT_AFTER):
        assert f"waiver-{waiver.pk}" in keys(safety_engineer())
    with pretending(waiver.expires_at + KEPT_AFTER + timedelta(minutes=1)):
        assert f"waiver-{waiver.pk}" not in keys(safety_engineer())
    withdraw_waiver(waiver_id=waiver.pk, actor=safety_engineer(), reason="No.")
    assert f"waiver-{waiver.pk}" not in keys(safety_engineer())


def test_a_meeting_stands_at_its_time_for_those_expected_until_it_has_ended():
    meeting = make_meeting()
    event = calendars.read(calendars.make(board_member())[1])[f"meeting-{meeting.pk}"]
    assert event["dtstart"].dt == meeting.planned_for.replace(microsecond=0)
    assert f"meeting-{meeting.pk}" not in keys(recorder())
    assert f"meeting-{meeting.pk}" in keys(recorder(), "all")
    end(open_meeting(meeting_id=meeting.pk, actor=board_member()))
    assert f"meeting-{meeting.pk}" not in keys(recorder(), "all")
    assert f"meeting-{make_cancelled().pk}" not in keys(board_member(), "all")


def test_a_retest_is_owed_before_the_next_activity_of_what_was_put_in_since_the_last():
    lead = activity_lead()
    before = make_activity(title="Sortie 6", planned_start=SEEN_AT - timedelta(days=9))
    start_activity(activity_id=before.pk, actor=lead, at=SEEN_AT - timedelta(days=9))
    complete_activity(activity_id=before.pk, actor=lead, at=SEEN_AT - timedelta(days=8))
    suit, valve = make_item("S1"), make_item("V7")
    install_hardware(item_id=valve.pk, parent_id=suit.pk, actor=lead)
    coming = make_activity()
    add_activity_hardware(activity_id=coming.pk, item_id=suit.pk, actor=lead)
    key = f"retest-{valve.pk}-before-{coming.pk}"
    event = calendars.read(calendars.make(lead)[1])[key]
    assert event["dtstart"].dt == coming.planned_start
    assert "no retest since is recorded" in event["description"]
    assert key not in keys(owner())
    assert key in keys(viewer(), "all")


def test_who_may_see_nothing_reads_an_empty_calendar_that_can_be_read():
    make_committed(), make_activity(), make_waiver()
    assert read_dates(make_stranger(), "all") == []
    assert calendars.read(calendars.make(make_stranger(), reach="all")[1]) == {}


def test_permissions_are_those_of_the_moment_it_is_read():
    make_committed()
    person = viewer()
    secret = calendars.make(person, reach="all")[1]
    assert len(calendars.read(secret)) == 1
    person.groups.clear()
    assert calendars.read(secret) == {}


def test_the_stamp_is_when_the_record_last_changed():
    activity = make_activity()
    with pretending(now() + timedelta(hours=3)):
        edit_activity(
            activity_id=activity.pk, actor=activity_lead(), version=activity.version, changes={"title": "Sortie 7b"}
        )
    event = calendars.read(calendars.make(activity_lead())[1])[f"activity-{activity.pk}"]
    last = LedgerEntry.objects.of("activity", activity.pk).last().at.replace(microsecond=0)
    assert event["dtstamp"].dt == event["last-modified"].dt == last
    assert last > now()


def test_every_event_has_what_the_standard_demands_and_leads_to_its_record():
    """RFC 5545, section 3.6.1: UID and DTSTAMP once, DTSTART where no METHOD is given; section 3.6: PRODID, VERSION."""
    make_committed(), make_done(), make_review(), make_waiver(), make_activity()
    content = calendars.ask(calendars.make(viewer(), reach="all")[1]).content
    calendar = Calendar.from_ical(content)
    assert (calendar["version"], calendar["prodid"]) == ("2.0", "-//Siftwood//Calendar//EN")
    assert "method" not in calendar
    events = calendar.walk("VEVENT")
    assert len(events) >= 8
    assert len({str(event["uid"]) for event in events}) == len(events)
    for event in events:
        assert {"uid", "dtstamp", "dtstart", "sequence", "summary", "url"} <= {name.lower() for name in event}
        assert "/records/" in event["url"]
        assert event.errors == []
    lines = content.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75


class AnyWords(TestCase):
    """Whatever a record is called, the calendar can be read and says it."""

    @settings(max_examples=80, suppress_health_check=list(HealthCheck))
    @given(st.text(max_size=120) | st.text(";,:\\\n\r\t\"'NBEGINnD=äß😀\x00\x07\x0b", max_size=60))
    def test_nothing_that_is_typed_breaks_it(self, words):
        activity = make_activity_once()
        entry = Entry("activity-1", words, words, SEEN_AT, None, 1, SEEN_AT, activity)
        content = write_calendar("Mine", [entry])
        (event,) = Calendar.from_ical(content).walk("VEVENT")
        plain = words.replace("\r\n", "\n").replace("\r", "\n")
        plain = "".join(sign for sign in plain if sign in "\n\t" or not is_control(sign))
        assert str(event["summary"]) == plain.replace("\\N", "\n")  # icalendar 7.3 takes this for a line break
        assert all(len(line) <= 75 for line in content.split(b"\r\n"))
        assert not any(byte < 32 and byte not in b"\r\n\t" for byte in content)


def is_control(sign):
    """Whether a text of a calendar can't hold it (RFC 5545, section 3.1)."""
    return ord(sign) < 32 or 0x7F <= ord(sign) < 0xA0 or 0xD800 <= ord(sign) < 0xE000


def make_activity_once():
    """One activity for all examples."""
    return Activity.objects.first() or make_activity()


def test_an_action_with_another_owner_moves_to_their_calendar():
    action = make_committed()
    other = make_person("action owner", "second")
    given = {"action_id": action.pk, "actor": board_member(), "version": action.reread().version}
    recommit_action(**given, owner_id=other.pk, due_on=next_week(), reason="On leave.")
    assert keys(owner()) == set()
    assert keys(other) == {f"action-{action.pk}-due"}
