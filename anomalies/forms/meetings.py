"""Moves of the board's meetings: planned, opened, what was decided, who was there, ended or cancelled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Anomaly, BoardMeeting, MeetingDecision
from anomalies.people import find_people_who_may
from anomalies.services.meetings import (
    cancel_meeting,
    edit_meeting,
    end_meeting,
    expect_people,
    open_meeting,
    plan_meeting,
    record_decision,
    withdraw_decision,
)
from anomalies.web.fields import MomentField, PeopleField, PersonField, RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form, new_form


def find_readers() -> Any:
    """Return those who may come: whoever may see anomalies."""
    return find_people_who_may("view_anomaly")


class PlanFields(forms.Form):
    """What a plan says."""

    title = line("Title", help_text="Like: Board on umbilical B07, second meeting.")
    planned_for = MomentField("When")
    chair = PersonField("Chair", find_people_who_may("change_boardmeeting"))


@new_form(
    "board_meeting", label="Plan a meeting", button="Plan it", rule="board_meeting.plan", back="anomalies:meetings"
)
class PlanMeetingForm(PlanFields, MoveForm[BoardMeeting]):
    """Plans a meeting."""

    columns: ClassVar[Mapping[str, str]] = {"chair": "chair_id", "people": "person_ids"}
    intro = "The agenda makes itself from what is open; nobody has to write it."
    done = "The meeting is planned."

    people = PeopleField("People expected", find_readers(), help_text="The chair is expected anyway.")

    @classmethod
    def start(cls, record: BoardMeeting, actor: User) -> dict[str, Any]:
        """Start with the actor as chair."""
        return {"chair": actor.pk}

    def act(self) -> BoardMeeting:
        """Plan."""
        return plan_meeting(actor=self.actor, **self.values())


@move_form("board_meeting", "edit", label="Change the plan", button="Save")
class EditMeetingForm(PlanFields, MoveForm[BoardMeeting]):
    """Changes title, moment or chair."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"chair": "chair_id"}

    @classmethod
    def start(cls, record: BoardMeeting, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        return {"title": record.title, "planned_for": record.planned_for, "chair": record.chair_id}

    def act(self) -> BoardMeeting:
        """Edit."""
        return edit_meeting(meeting_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


class PeopleForm(MoveForm[BoardMeeting]):
    """Base of what ticks people."""

    columns: ClassVar[Mapping[str, str]] = {"people": "person_ids"}

    @classmethod
    def start(cls, record: BoardMeeting, actor: User) -> dict[str, Any]:
        """Start with those who are expected."""
        return {"people": list(record.attendances.filter(active=True).values_list("person_id", flat=True))}


@move_form("board_meeting", "attend", label="Say who is expected", button="Save", section="people")
class ExpectForm(PeopleForm):
    """Says who is expected."""

    done = "The list of those expected is saved."

    people = PeopleField("People expected", find_readers(), help_text="The chair is expected anyway.")

    def act(self) -> BoardMeeting:
        """Save."""
        return expect_people(meeting_id=self.record.pk, actor=self.actor, **self.values())


@move_form("board_meeting", "open", label="Open the meeting", button="Open it now")
class OpenMeetingForm(MoveForm[BoardMeeting]):
    """Opens a meeting."""

    intro = "The agenda as it is now is kept, and from now on what is recorded stands in the minutes."
    done = "The meeting is under way."

    def act(self) -> BoardMeeting:
        """Open."""
        return open_meeting(meeting_id=self.record.pk, actor=self.actor)


@move_form("board_meeting", "decide", label="Record a decision", button="Record it", section="decisions")
class DecideForm(MoveForm[BoardMeeting]):
    """Records what was decided."""

    columns: ClassVar[Mapping[str, str]] = {"anomaly": "anomaly_id"}
    intro = "For what no other record holds: adopting a finding or verifying an action stands in the minutes by itself."
    done = "The decision is recorded."

    text = words("What was decided", rows=4)
    anomaly = RecordField("About", Anomaly.objects.filter(number__isnull=False), required=False, empty="No one anomaly")

    def act(self) -> MeetingDecision:
        """Record."""
        return record_decision(meeting_id=self.record.pk, actor=self.actor, **self.values())


@move_form("meeting_decision", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawDecisionForm(MoveForm[MeetingDecision]):
    """Takes a decision back."""

    intro = "It stays in the minutes, marked as withdrawn, with the reason."
    done = "The decision is withdrawn."

    reason = words("Why", rows=2)

    def act(self) -> MeetingDecision:
        """Withdraw."""
        return withdraw_decision(decision_id=self.record.pk, actor=self.actor, **self.values())


@move_form("board_meeting", "end", label="End the meeting", button="End it now")
class EndMeetingForm(PeopleForm):
    """Ends a meeting."""

    intro = "The agenda as it stands now is kept, and the minutes end here. It can't be opened again."
    done = "The meeting has ended; its minutes are below."

    people = PeopleField("Who was there", find_readers())

    def act(self) -> BoardMeeting:
        """End."""
        return end_meeting(meeting_id=self.record.pk, actor=self.actor, **self.values())


@move_form("board_meeting", "cancel", label="Cancel", button="Cancel the meeting")
class CancelMeetingForm(MoveForm[BoardMeeting]):
    """Cancels a meeting."""

    done = "The meeting is cancelled."

    reason = words("Why", rows=2)

    def act(self) -> BoardMeeting:
        """Cancel."""
        return cancel_meeting(meeting_id=self.record.pk, actor=self.actor, **self.values())
