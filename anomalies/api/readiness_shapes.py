"""Shapes of readiness in the JSON API: what is sent, and the records; they never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.doors import PasswordIn, open_moves
from anomalies.models import (
    Activity,
    Fulfilment,
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    Requirement,
    Verdict,
    Waiver,
)
from anomalies.risk import Probability, Severity
from anomalies.states import FULFILMENT, READINESS_REVIEW, REQUIREMENT, WAIVER

LONG = 50_000


class ItemOut(serializers.Serializer[Any]):
    """One item of the list: how it stands, and the record that shows it or where it is mended."""

    key = serializers.CharField()
    title = serializers.CharField()
    standing = serializers.ChoiceField(["met", "open", "accepted"])
    because = serializers.CharField()
    owed_by = serializers.CharField()
    due = serializers.SerializerMethodField()
    record_kind = serializers.CharField(source="record.KIND")
    record_id = serializers.IntegerField(source="record.pk")

    def get_due(self, item: Any) -> str | None:
        """Return the day or the moment by which it's owed."""
        return item.due.isoformat() if item.due else None


class ChecklistOut(serializers.Serializer[Any]):
    """The list of an activity as it is now; whoever signs sends its `list_hash`, so that nobody signs another one."""

    list_hash = serializers.CharField(source="hash")
    items = ItemOut(many=True)


class SinceOut(serializers.Serializer[Any]):
    """What isn't as it was, with the record that shows it."""

    head = serializers.CharField()
    text = serializers.CharField()
    record_kind = serializers.CharField(source="record.KIND")
    record_id = serializers.IntegerField(source="record.pk")


class AnswerOut(serializers.ModelSerializer[PollAnswer]):
    """What a position said in a round."""

    position = serializers.CharField(source="position.name")
    answered_by = serializers.CharField(source="answered_by.username")

    class Meta:
        model = PollAnswer
        fields = (
            *("id", "position", "round", "stand", "text", "answered_by", "answered_at", "settled_note"),
            *("settled_at", "overtaken_at", "overtaken_because", "version"),
        )


class PollPositionOut(serializers.ModelSerializer[PollPosition]):
    """A position of the poll, and who speaks for it."""

    person = serializers.CharField(source="person.username", allow_null=True, default=None)

    class Meta:
        model = PollPosition
        fields = ("id", "name", "person", "active", "version")


class ReviewOut(serializers.ModelSerializer[ReadinessReview]):
    """The review of an activity, with the answers of its round."""

    answers = serializers.SerializerMethodField()
    positions = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = ReadinessReview
        fields = (
            *("id", "activity_id", "round", "verdict", "stale_since", "stale_because", "opened_at", "state"),
            *("state_reason", "positions", "answers", "version", "moves"),
        )

    def get_answers(self, review: ReadinessReview) -> list[dict[str, Any]]:
        """Return what each position said last."""
        rows = PollAnswer.objects.said_last_in(review).select_related("position", "answered_by").order_by("pk")
        return [dict(AnswerOut(row).data) for row in rows]

    def get_positions(self, review: ReadinessReview) -> list[dict[str, Any]]:
        """Return the positions that are asked."""
        rows = PollPosition.objects.filter(activity=review.activity_id, active=True).select_related("person")
        return [dict(PollPositionOut(row).data) for row in rows]

    def get_moves(self, review: ReadinessReview) -> list[str]:
        """Return the moves that are open."""
        return open_moves(READINESS_REVIEW, review, self.context["request"].user)


class SnapshotOut(serializers.ModelSerializer[ReadinessSnapshot]):
    """What a round ended with: the document as it was signed, and its SHA-256 as the ledger holds it."""

    document_hash = serializers.CharField()
    taken_by = serializers.CharField(source="taken_by.username")

    class Meta:
        model = ReadinessSnapshot
        fields = ("id", "round", "verdict", "reason", "document", "document_hash", "taken_by", "taken_at")


class WaiverOut(serializers.ModelSerializer[Waiver]):
    """That an open item is accepted, until when, with what risk."""

    granted_by = serializers.CharField(source="granted_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Waiver
        fields = (
            *("id", "activity_id", "item", "title", "carries", "reason", "severity", "probability", "risk_code"),
            *("figure", "figure_low", "figure_high", "figure_method", "expires_at", "granted_by", "granted_at"),
            *("state", "state_reason", "version", "moves"),
        )

    def get_moves(self, waiver: Waiver) -> list[str]:
        """Return the moves that are open."""
        return open_moves(WAIVER, waiver, self.context["request"].user)


class RequirementOut(serializers.ModelSerializer[Requirement]):
    """What every activity of a kind needs."""

    hardware_type = serializers.CharField(source="hardware_type.part_number", allow_null=True, default=None)
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Requirement
        fields = (
            *("id", "activity_kind", "sort", "statement", "scope", "role", "hardware_type", "within_days"),
            *("state", "version", "moves"),
        )

    def get_moves(self, row: Requirement) -> list[str]:
        """Return the moves that are open."""
        return open_moves(REQUIREMENT, row, self.context["request"].user)


class FulfilmentOut(serializers.ModelSerializer[Fulfilment]):
    """That a requirement was met for an activity."""

    person = serializers.CharField(source="person.username", allow_null=True, default=None)
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Fulfilment
        fields = (
            *("id", "activity_id", "requirement_id", "person", "item_id", "done_at", "note", "recorded_at"),
            *("state", "version", "moves"),
        )

    def get_moves(self, row: Fulfilment) -> list[str]:
        """Return the moves that are open."""
        return open_moves(FULFILMENT, row, self.context["request"].user)


class RequirementIn(serializers.Serializer[Any]):
    """A new requirement."""

    activity_kind = serializers.ChoiceField(Activity.Kind.choices)
    sort = serializers.ChoiceField(Requirement.Sort.choices)
    statement = serializers.CharField(max_length=300)
    scope = serializers.ChoiceField(Requirement.Scope.choices)
    role = serializers.CharField(max_length=80, required=False, allow_blank=True)
    hardware_type_id = serializers.IntegerField(required=False, allow_null=True)
    within_days = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=3650)


class RequirementEditIn(serializers.Serializer[Any]):
    """The fields that change, and the version that was read."""

    version = serializers.IntegerField(min_value=1)
    activity_kind = serializers.ChoiceField(Activity.Kind.choices, required=False)
    sort = serializers.ChoiceField(Requirement.Sort.choices, required=False)
    statement = serializers.CharField(max_length=300, required=False)
    scope = serializers.ChoiceField(Requirement.Scope.choices, required=False)
    role = serializers.CharField(max_length=80, required=False, allow_blank=True)
    hardware_type_id = serializers.IntegerField(required=False, allow_null=True)
    within_days = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=3650)


class PollPositionIn(serializers.Serializer[Any]):
    """A position, and who speaks for it."""

    name = serializers.CharField(max_length=80)
    person_id = serializers.IntegerField(required=False, allow_null=True, default=None)


class PositionNameIn(serializers.Serializer[Any]):
    """A position."""

    name = serializers.CharField(max_length=80)


class StandardPositionIn(serializers.Serializer[Any]):
    """A position that the polls of a kind of activity ask."""

    activity_kind = serializers.ChoiceField(Activity.Kind.choices)
    name = serializers.CharField(max_length=80)


class FulfilmentIn(serializers.Serializer[Any]):
    """What was done of a requirement; the person or the item where it asks for one of each."""

    requirement_id = serializers.IntegerField()
    person_id = serializers.IntegerField(required=False, allow_null=True)
    item_id = serializers.IntegerField(required=False, allow_null=True)
    done_at = serializers.DateTimeField()
    note = serializers.CharField(max_length=LONG)


class AnswerIn(PasswordIn):
    """What the position says, and the hash of the list it was said of."""

    stand = serializers.ChoiceField(PollAnswer.Stand.choices)
    text = serializers.CharField(max_length=LONG, required=False, allow_blank=True, default="")
    list_hash = serializers.CharField(max_length=64)


class SettleIn(serializers.Serializer[Any]):
    """What shows that the condition is met."""

    note = serializers.CharField(max_length=LONG)


class ConcludeIn(PasswordIn):
    """The verdict, and the hash of the list it's given on."""

    verdict = serializers.ChoiceField(Verdict.choices)
    reason = serializers.CharField(max_length=LONG, required=False, allow_blank=True, default="")
    list_hash = serializers.CharField(max_length=64)


class WaiverIn(PasswordIn):
    """Which open item is accepted, until when, with what risk."""

    item = serializers.CharField(max_length=80)
    reason = serializers.CharField(max_length=LONG)
    severity = serializers.ChoiceField(Severity.choices)
    probability = serializers.ChoiceField(Probability.choices)
    expires_at = serializers.DateTimeField()
    carries = serializers.BooleanField(default=False)
