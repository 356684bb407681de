"""Meetings of the board: who was there, and what was decided. Agenda and minutes come from the other records."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.states import DecisionState, MeetingState
from config.kit.permissions import Actor, allows


class BoardMeetingQuerySet(RecordQuerySet["BoardMeeting"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> BoardMeetingQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()


class BoardMeeting(Record):
    """One meeting of the board.

    agenda_then     the agenda as it stood when the meeting was opened, as JSON text; never changed afterwards
    agenda_left     the agenda as it stood when the meeting ended, likewise
    The ledger holds their SHA-256 in their place, worked out from the text whenever it's asked.
    """

    KIND = "board_meeting"

    title = models.CharField(max_length=200)
    planned_for = models.DateTimeField()
    chair = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="meetings_chaired")
    opened_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    agenda_then = models.TextField(blank=True)
    agenda_left = models.TextField(blank=True)
    state = models.CharField(max_length=12, choices=MeetingState.choices, default=MeetingState.PLANNED)
    state_reason = models.TextField(blank=True)

    objects = BoardMeetingQuerySet.as_manager()

    class Meta:
        ordering = ("-planned_for", "-pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=MeetingState.values), name="meeting_state_known"),
            models.CheckConstraint(
                condition=~Q(state=MeetingState.HELD) | Q(opened_at__isnull=False, ended_at__gte=models.F("opened_at")),
                name="meeting_held_in_order",
            ),
            models.CheckConstraint(
                condition=~Q(state=MeetingState.CANCELLED) | ~Q(state_reason=""), name="meeting_cancelled_says_why"
            ),
        )

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:meeting", args=(self.pk,))

    def content(self) -> dict[str, Any]:
        """Return all fields, each agenda by its hash."""
        content = super().content()
        for name in ("agenda_then", "agenda_left"):
            text = content.pop(name, "")
            if text:
                content[f"{name}_hash"] = hash_text(text)
        return content


class MeetingAttendance(Membership):
    """That somebody is expected at a meeting, and whether they came. Not active: isn't, or wasn't, expected.

    presence        empty until the meeting has ended; then also of those who came without being expected
    """

    class Presence(models.TextChoices):
        """Whether somebody came."""

        THERE = "there", "There"
        ABSENT = "absent", "Absent"

    KIND = "meeting_attendance"

    meeting = models.ForeignKey(BoardMeeting, on_delete=models.PROTECT, related_name="attendances")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="meetings")
    presence = models.CharField(max_length=8, choices=Presence.choices, blank=True)

    objects = RecordQuerySet["MeetingAttendance"].as_manager()

    class Meta:
        ordering = ("meeting", "pk")
        constraints = (models.UniqueConstraint(fields=("meeting", "person"), name="meeting_attendance_once"),)

    def __str__(self) -> str:
        return f"person {self.person_id} at meeting {self.meeting_id}"


class MeetingDecisionQuerySet(RecordQuerySet["MeetingDecision"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> MeetingDecisionQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def standing(self) -> MeetingDecisionQuerySet:
        """Not withdrawn."""
        return self.filter(state=DecisionState.STANDING)


class MeetingDecision(Record):
    """What a meeting decided, in its own words; about one anomaly, or about none."""

    KIND = "meeting_decision"

    meeting = models.ForeignKey(BoardMeeting, on_delete=models.PROTECT, related_name="decisions")
    anomaly = models.ForeignKey(
        Anomaly, null=True, blank=True, on_delete=models.PROTECT, related_name="meeting_decisions"
    )
    text = models.TextField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=DecisionState.choices, default=DecisionState.STANDING)
    state_reason = models.TextField(blank=True)

    objects = MeetingDecisionQuerySet.as_manager()

    class Meta:
        ordering = ("meeting", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=DecisionState.values), name="meeting_decision_state_known"),
            models.CheckConstraint(condition=~Q(text=""), name="meeting_decision_says_something"),
            models.CheckConstraint(
                condition=Q(state=DecisionState.STANDING) | ~Q(state_reason=""), name="meeting_decision_withdrawn_why"
            ),
        )

    def __str__(self) -> str:
        return self.text

    def get_absolute_url(self) -> str:
        """Its place on the page of the meeting."""
        return f"{reverse('anomalies:meeting', args=(self.meeting_id,))}#meeting_decision-{self.pk}"


def hash_text(text: str) -> str:
    """SHA-256 of a text, in hexadecimal."""
    return sha256(text.encode()).hexdigest()
