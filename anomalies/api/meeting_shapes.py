"""Shapes of the board's meetings in the JSON API: what is sent, and the records; they never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.doors import open_moves
from anomalies.models import BoardMeeting, MeetingAttendance, MeetingDecision
from anomalies.states import BOARD_MEETING, MEETING_DECISION

LONG = 50_000


class PeopleIn(serializers.Serializer[Any]):
    """People by key."""

    person_ids = serializers.ListField(child=serializers.IntegerField(min_value=1), max_length=500)


class MeetingIn(serializers.Serializer[Any]):
    """A meeting to plan; its chair is expected anyway."""

    title = serializers.CharField(max_length=200)
    planned_for = serializers.DateTimeField()
    chair_id = serializers.IntegerField(min_value=1)
    person_ids = serializers.ListField(child=serializers.IntegerField(min_value=1), max_length=500, required=False)


class MeetingChanges(serializers.Serializer[Any]):
    """What is to change of a plan, and the version that was read."""

    version = serializers.IntegerField(min_value=1)
    title = serializers.CharField(max_length=200, required=False)
    planned_for = serializers.DateTimeField(required=False)
    chair_id = serializers.IntegerField(min_value=1, required=False)


class MeetingDecisionIn(serializers.Serializer[Any]):
    """What was decided, about one anomaly or about none."""

    text = serializers.CharField(max_length=LONG)
    anomaly_id = serializers.IntegerField(min_value=1, required=False, allow_null=True)


class MeetingDecisionOut(serializers.ModelSerializer[MeetingDecision]):
    """A decision of a meeting."""

    anomaly = serializers.CharField(source="anomaly.number", allow_null=True, default=None)
    recorded_by = serializers.CharField(source="recorded_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = MeetingDecision
        fields = (
            *("id", "meeting_id", "anomaly", "text", "recorded_by", "recorded_at", "state", "state_reason"),
            *("version", "moves"),
        )

    def get_moves(self, decision: MeetingDecision) -> list[str]:
        """Return them by name."""
        return open_moves(MEETING_DECISION, decision, self.context["request"].user)


class AttendanceOut(serializers.ModelSerializer[MeetingAttendance]):
    """Somebody who is expected, or was there."""

    person = serializers.CharField(source="person.username")
    is_expected = serializers.BooleanField(source="active")

    class Meta:
        model = MeetingAttendance
        fields = ("person", "is_expected", "presence")


class MeetingOut(serializers.ModelSerializer[BoardMeeting]):
    """A meeting, with who is expected or was there."""

    chair = serializers.CharField(source="chair.username")
    people = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = BoardMeeting
        fields = (
            *("id", "title", "planned_for", "chair", "opened_at", "ended_at", "state", "state_reason", "people"),
            *("version", "moves"),
        )

    def get_people(self, meeting: BoardMeeting) -> list[dict[str, Any]]:
        """Return everybody who is expected, or was said to be there or absent."""
        rows = [row for row in meeting.attendances.all() if row.active or row.presence]
        return [dict(each) for each in AttendanceOut(rows, many=True).data]

    def get_moves(self, meeting: BoardMeeting) -> list[str]:
        """Return them by name."""
        return open_moves(BOARD_MEETING, meeting, self.context["request"].user)


class AgendaItemOut(serializers.Serializer[Any]):
    """One item: the record, what is asked of the board, who owes it."""

    group = serializers.CharField()
    about = serializers.CharField()
    asked = serializers.CharField()
    owed_by = serializers.CharField()
    record_kind = serializers.CharField(source="kind")
    record_id = serializers.IntegerField(source="key")
    record_version = serializers.IntegerField(source="version")
    content_hash = serializers.CharField()


class AgendaOut(serializers.Serializer[Any]):
    """The agenda as it is now, or as it stood when the meeting ended."""

    at = serializers.DateTimeField()
    is_kept = serializers.BooleanField(help_text="True once the meeting has ended: it never changes again.")
    items = AgendaItemOut(many=True)


class MinutesLineOut(serializers.Serializer[Any]):
    """One thing that was recorded while the meeting was open."""

    sequence = serializers.IntegerField(help_text="The entry of the ledger.")
    at = serializers.DateTimeField()
    part = serializers.CharField()
    text = serializers.CharField()
    reason = serializers.CharField()
    who = serializers.CharField()
    record_kind = serializers.CharField(source="kind")
    record_id = serializers.IntegerField(source="key")
    outside = serializers.BooleanField(help_text="Whoever did it wasn't at the meeting; false until that is known.")


class MinutesOut(serializers.Serializer[Any]):
    """The minutes of a meeting, so far or of all of it; `until` is null while it's under way."""

    since = serializers.DateTimeField()
    until = serializers.DateTimeField(allow_null=True)
    there = serializers.ListField(child=serializers.CharField())
    absent = serializers.ListField(child=serializers.CharField())
    decisions = MeetingDecisionOut(many=True)
    lines = MinutesLineOut(many=True)
    open_meetings_beside = serializers.SerializerMethodField(help_text="Their minutes hold the same lines.")
    caution = serializers.CharField()

    def get_open_meetings_beside(self, minutes: Any) -> list[int]:
        """Return the keys of other meetings that were open at the same time."""
        return [meeting.pk for meeting in minutes.beside]
