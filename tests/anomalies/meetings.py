"""Meetings of the board for tests, made with the services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from anomalies.clock import now
from anomalies.models import BoardMeeting, MeetingDecision
from anomalies.services.meetings import cancel_meeting, end_meeting, open_meeting, plan_meeting, record_decision
from tests.anomalies.people import board_member, recorder, safety_engineer


def make_meeting(**changes: Any) -> BoardMeeting:
    """A meeting that the safety engineer chairs, and at which the board member is expected."""
    given = {
        "title": "Board, first meeting",
        "planned_for": now() + timedelta(days=2),
        "chair_id": safety_engineer().pk,
        "person_ids": [board_member().pk],
    }
    return plan_meeting(actor=safety_engineer(), **given | changes)


def make_opened(**changes: Any) -> BoardMeeting:
    """A meeting that is under way."""
    return open_meeting(meeting_id=make_meeting(**changes).pk, actor=safety_engineer())


def end(meeting: BoardMeeting, *people: Any) -> BoardMeeting:
    """It ends; the chair and the recorder were there, unless others are named."""
    there = [person.pk for person in people or (safety_engineer(), recorder())]
    return end_meeting(meeting_id=meeting.pk, actor=safety_engineer(), person_ids=there)


def make_held(**changes: Any) -> BoardMeeting:
    """A meeting that was held."""
    return end(make_opened(**changes))


def make_cancelled(**changes: Any) -> BoardMeeting:
    """A meeting that was cancelled."""
    return cancel_meeting(meeting_id=make_meeting(**changes).pk, actor=safety_engineer(), reason="Nobody has time.")


def make_decision(meeting: BoardMeeting | None = None, **changes: Any) -> MeetingDecision:
    """A decision about nothing in particular."""
    meeting = meeting or make_opened()
    given = {"text": "Meet every week."} | changes
    return record_decision(meeting_id=meeting.pk, actor=board_member(), **given)
