"""The list of meetings, and one meeting as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q, QuerySet

from anomalies.models import BoardMeeting, MeetingAttendance
from anomalies.reads.history import Event, read_history
from anomalies.reads.meetings.agenda import read_agenda
from anomalies.reads.meetings.frozen import load_agenda
from anomalies.reads.meetings.item import Agenda
from anomalies.reads.meetings.minutes import Minutes, read_minutes
from anomalies.states import DecisionState, MeetingState
from config.kit.permissions import Actor


@dataclass(frozen=True, slots=True)
class MeetingView:
    """Everything on the page.

    agenda      as it is now; as it stood at the end, once the meeting was held; None if it was cancelled
    settled     what was on the agenda when the meeting was opened, and isn't any more
    minutes     None before it's opened
    """

    meeting: BoardMeeting
    agenda: Agenda | None
    settled: Agenda | None
    minutes: Minutes | None
    people: list[MeetingAttendance]
    events: list[Event]


def list_meetings(actor: Actor) -> QuerySet[BoardMeeting]:
    """Return all meetings, the latest first, with how many decisions stand."""
    count = Count("decisions", filter=Q(decisions__state=DecisionState.STANDING))
    rows = BoardMeeting.objects.visible_to(actor).select_related("chair").annotate(decision_count=count)
    return rows.order_by("-planned_for", "-pk")


def read_meeting(meeting: BoardMeeting) -> MeetingView:
    """Return the page."""
    then, agenda = load_agenda(meeting.agenda_then), find_agenda(meeting)
    settled = then.without(agenda) if then and agenda else None
    minutes = read_minutes(meeting) if meeting.opened_at else None
    people = meeting.attendances.filter(Q(active=True) | ~Q(presence="")).select_related("person")
    parts: list[QuerySet[Any]] = [meeting.attendances.all(), meeting.decisions.all()]
    return MeetingView(
        meeting,
        agenda,
        settled,
        minutes,
        list(people.order_by("person__last_name", "person__username")),
        read_history(meeting, parts=parts),
    )


def find_agenda(meeting: BoardMeeting) -> Agenda | None:
    """Return the agenda as it is now, or as a held meeting kept it; None of one that was cancelled."""
    if meeting.state == MeetingState.CANCELLED:
        return None
    return load_agenda(meeting.agenda_left) or read_agenda()
