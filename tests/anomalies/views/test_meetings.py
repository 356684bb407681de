"""Pages of meetings: the list, one meeting in each state, its minutes as a file."""

from __future__ import annotations

import pytest

from anomalies.clock import pretending
from anomalies.models import BoardMeeting
from anomalies.services.meetings import withdraw_decision
from anomalies.services.screening import dismiss_anomaly
from tests.anomalies.meetings import end, make_cancelled, make_decision, make_held, make_meeting, make_opened
from tests.anomalies.people import (
    board_member,
    make_open,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def read(address, person=None):
    answer = log_in(person or board_member()).get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_empty_list_says_what_to_do_next():
    page = read("/meetings/")
    assert "No meeting yet" in page
    assert 'href="/new/board_meeting/"' in page
    page = read("/meetings/", viewer())
    assert "A board member or a safety engineer plans one" in page
    assert "/new/board_meeting/" not in page


def test_the_list_has_the_latest_first_with_decisions_that_stand():
    late = make_meeting(title="Late")
    with pretending(late.planned_for):
        decision = make_decision(make_opened(title="Later still"))
    make_decision(decision.meeting, text="Another.")
    withdraw_decision(decision_id=decision.pk, actor=board_member(), reason="No.")
    page = read("/meetings/", viewer())
    assert page.index("Later still") < page.index(">Late<")
    assert '<td class="num" data-head="decisions">1</td>' in page


def test_it_is_reached_from_now_and_from_the_log():
    for address in ("/", "/log/"):
        assert 'href="/meetings/"' in read(address, viewer())
    assert 'href="/meetings/"' not in log_in(make_stranger()).get("/").content.decode()


def test_one_is_planned_on_a_page_and_what_was_typed_stays_when_it_can_not_be():
    member = board_member()
    client = log_in(member)
    given = {"title": "Board on the seal", "planned_for": "2031-04-05 09:30", "chair": member.pk}
    answer = client.post("/new/board_meeting/", given | {"people": [recorder().pk]})
    meeting = BoardMeeting.objects.get()
    assert (answer.status_code, answer["Location"]) == (302, f"/meetings/{meeting.pk}/")
    assert meeting.attendances.count() == 2
    answer = client.post("/new/board_meeting/", given | {"planned_for": "soon"})
    assert answer.status_code == 422
    assert "Board on the seal" in answer.content.decode()
    answer = client.post("/new/board_meeting/", given | {"chair": viewer().pk})
    assert answer.status_code == 422
    assert BoardMeeting.objects.count() == 1


def test_a_planned_one_shows_the_agenda_as_it_is_now():
    report = make_reported(title="Odd light")
    address = make_meeting().get_absolute_url()
    page = read(address)
    assert f'href="/records/anomaly/{report.pk}/"' in page
    assert "Owed by" in page
    assert "Minutes" not in page
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="A reflection.")
    assert "Odd light" not in read(address)


def test_one_under_way_shows_minutes_so_far_and_what_left_the_agenda():
    report = make_reported(title="Odd light")
    meeting = make_opened()
    page = read(meeting.get_absolute_url())
    assert "Nothing is recorded yet" in page
    assert "Off the agenda" not in page
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="A <b>reflection</b>.")
    page = read(meeting.get_absolute_url())
    assert "Minutes so far" in page
    assert "Odd light: dismissed." in page
    assert "A &lt;b&gt;reflection&lt;/b&gt;." in page
    assert page.index("Off the agenda since it was opened") < page.rindex("Odd light")


def test_a_held_one_keeps_its_agenda():
    report = make_reported(title="Odd light")
    meeting = make_held()
    address = meeting.get_absolute_url()
    assert "Odd light" in read(address)
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="A reflection.")
    page = read(address)
    assert "Still open when it ended" in page
    assert "Odd light" in page
    assert "Odd light: dismissed." not in page


def test_a_cancelled_one_says_why_and_has_no_agenda():
    page = read(make_cancelled().get_absolute_url())
    assert "Nobody has time." in page
    assert "Agenda" not in page


def test_a_decision_is_recorded_and_withdrawn_on_the_page():
    meeting = make_opened()
    client = log_in(board_member())
    answer = client.post(f"/records/board_meeting/{meeting.pk}/decide/", {"text": "Keep it.", "anomaly": ""})
    decision = meeting.decisions.get()
    assert answer["Location"] == f"/meetings/{meeting.pk}/#meeting_decision-{decision.pk}"
    client.post(f"/records/meeting_decision/{decision.pk}/withdraw/", {"reason": "Not ours."})
    page = read(meeting.get_absolute_url())
    assert "Withdrawn because: Not ours." in page
    assert f"/records/meeting_decision/{decision.pk}/withdraw/" not in page
    answer = client.post(f"/records/board_meeting/{meeting.pk}/decide/", {"text": ""})
    assert answer.status_code == 422


def test_it_is_opened_and_ended_on_the_page_with_those_who_were_there():
    meeting = make_meeting()
    client = log_in(board_member())
    client.post(f"/records/board_meeting/{meeting.pk}/open/")
    form = client.get(f"/records/board_meeting/{meeting.pk}/end/").content.decode()
    assert form.count(" checked") == 2  # who is expected is ticked
    assert client.post(f"/records/board_meeting/{meeting.pk}/end/", {}).status_code == 422
    client.post(f"/records/board_meeting/{meeting.pk}/end/", {"people": [board_member().pk]})
    assert meeting.reread().state == "held"
    page = read(meeting.get_absolute_url())
    assert "There</span>" in page
    assert "Absent</span>" in page


def test_a_viewer_reads_and_is_offered_nothing():
    decision = make_decision()
    page = read(decision.meeting.get_absolute_url(), viewer())
    assert "Meet every week." in page
    assert "/records/board_meeting/" not in page
    assert "/records/meeting_decision/" not in page


def test_a_stranger_finds_none():
    address = make_held().get_absolute_url()
    client = log_in(make_stranger())
    assert client.get(address).status_code == 404
    assert client.get(f"{address}minutes.pdf").status_code == 404
    assert client.get("/meetings/").status_code == 403


def test_minutes_are_handed_out_as_a_file_and_not_before_it_is_opened():
    client = log_in(viewer())
    held, planned = end(make_opened(title="Board on B07")), make_meeting()
    answer = client.get(f"{held.get_absolute_url()}minutes.pdf?paper=letter")
    assert answer["Content-Type"] == "application/pdf"
    assert "minutes-" in answer["Content-Disposition"]
    assert answer.content.startswith(b"%PDF")
    assert client.get(f"{held.get_absolute_url()}minutes.pdf?paper=a5").status_code == 422
    assert client.get(f"{planned.get_absolute_url()}minutes.pdf").status_code == 409


def test_the_dossier_shows_what_meetings_decided_about_the_anomaly_and_nothing_else():
    anomaly, meeting = make_open(), make_opened(title="Board on B07")
    decision = make_decision(meeting, anomaly_id=anomaly.pk, text="Keep B07 on the bench.")
    make_decision(meeting, text="Meet on Tuesdays.")
    page = read(anomaly.get_absolute_url(), viewer())
    assert f'href="/meetings/{meeting.pk}/#meeting_decision-{decision.pk}"' in page
    assert "Keep B07 on the bench." in page
    assert "Meet on Tuesdays." not in page
    withdraw_decision(decision_id=decision.pk, actor=board_member(), reason="No.")
    assert "<s>Keep B07 on the bench.</s>" in read(anomaly.get_absolute_url(), viewer())
    assert "Decisions of meetings" not in read(make_open(title="Other").get_absolute_url(), viewer())
