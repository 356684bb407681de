"""Shapes of lessons in the JSON API: what is sent, and the records; they never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.doors import open_moves
from anomalies.models import Activity, Lesson, LessonPlace, LessonUse
from anomalies.states import LESSON, LESSON_USE

LONG = 50_000


class LessonIn(serializers.Serializer[Any]):
    """A lesson, and the closed anomaly or the activity that it is drawn from, one of the two."""

    title = serializers.CharField(max_length=200)
    what_happened = serializers.CharField(max_length=LONG)
    why = serializers.CharField(max_length=LONG)
    what_to_do = serializers.CharField(max_length=LONG)
    anomaly_id = serializers.IntegerField(required=False, allow_null=True)
    activity_id = serializers.IntegerField(required=False, allow_null=True)


class LessonEdit(serializers.Serializer[Any]):
    """What is to be changed of a draft, and the version that was read."""

    version = serializers.IntegerField(min_value=1)
    title = serializers.CharField(max_length=200, required=False)
    what_happened = serializers.CharField(max_length=LONG, required=False)
    why = serializers.CharField(max_length=LONG, required=False)
    what_to_do = serializers.CharField(max_length=LONG, required=False)


class LessonPlaceIn(serializers.Serializer[Any]):
    """One thing that it applies to: one of the four."""

    hardware_type_id = serializers.IntegerField(required=False, allow_null=True)
    procedure_id = serializers.IntegerField(required=False, allow_null=True)
    activity_kind = serializers.ChoiceField(Activity.Kind.choices, required=False, allow_blank=True)
    task = serializers.CharField(max_length=200, required=False, allow_blank=True)


class LessonPlaceKeyIn(serializers.Serializer[Any]):
    """Which of its places is taken off."""

    place_id = serializers.IntegerField()


class LessonDecisionIn(serializers.Serializer[Any]):
    """What is decided, why, and for which anomaly, activity or procedure, one of the three."""

    decision = serializers.ChoiceField(LessonUse.Decision.choices)
    reason = serializers.CharField(max_length=LONG)
    anomaly_id = serializers.IntegerField(required=False, allow_null=True)
    activity_id = serializers.IntegerField(required=False, allow_null=True)
    procedure_id = serializers.IntegerField(required=False, allow_null=True)


class LessonChangeIn(serializers.Serializer[Any]):
    """What was changed for it, one of the three."""

    changed_revision_id = serializers.IntegerField(required=False, allow_null=True)
    changed_requirement_id = serializers.IntegerField(required=False, allow_null=True)
    changed_action_id = serializers.IntegerField(required=False, allow_null=True)


class LessonPlaceOut(serializers.ModelSerializer[LessonPlace]):
    """One thing that it applies to."""

    class Meta:
        model = LessonPlace
        fields = ("id", "hardware_type_id", "procedure_id", "activity_kind", "task")


class LessonUseOut(serializers.ModelSerializer[LessonUse]):
    """What was decided where it was offered, and what was changed for it."""

    lesson = serializers.CharField(source="lesson.number")
    decided_by = serializers.CharField(source="decided_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = LessonUse
        fields = (
            *("id", "lesson", "anomaly_id", "activity_id", "procedure_id", "decision", "reason"),
            *("changed_revision_id", "changed_requirement_id", "changed_action_id"),
            *("decided_by", "decided_at", "state", "state_reason", "version", "moves"),
        )

    def get_moves(self, use: LessonUse) -> list[str]:
        """Return the moves that are open."""
        return open_moves(LESSON_USE, use, self.context["request"].user)


class LessonOut(serializers.ModelSerializer[Lesson]):
    """A lesson, where it applies, and what came of it."""

    author = serializers.CharField(source="author.username")
    issued_by = serializers.CharField(source="issued_by.username", allow_null=True, default=None)
    places = serializers.SerializerMethodField()
    uses = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Lesson
        fields = (
            *("id", "number", "title", "anomaly_id", "activity_id", "what_happened", "why", "what_to_do"),
            *("author", "written_at", "issued_by", "issued_at", "state", "state_reason", "places", "uses"),
            *("version", "moves"),
        )

    def get_places(self, lesson: Lesson) -> list[dict[str, Any]]:
        """Return what it applies to."""
        return [dict(LessonPlaceOut(place).data) for place in lesson.places.all() if place.active]

    def get_uses(self, lesson: Lesson) -> list[dict[str, Any]]:
        """Return what was decided, also what was withdrawn."""
        return [dict(LessonUseOut(use, context=self.context).data) for use in lesson.uses.all()]

    def get_moves(self, lesson: Lesson) -> list[str]:
        """Return the moves that are open."""
        return open_moves(LESSON, lesson, self.context["request"].user)


class OfferedLessonOut(serializers.Serializer[Any]):
    """A lesson that is offered, and why; `likeness` of words runs from 0 to 1."""

    lesson = serializers.CharField(source="lesson.number")
    title = serializers.CharField(source="lesson.title")
    what_to_do = serializers.CharField(source="lesson.what_to_do")
    reasons = serializers.ListField(child=serializers.CharField())
    likeness = serializers.FloatField()


class LessonOffersOut(serializers.Serializer[Any]):
    """What is offered at one place, what was decided there, and how it was found."""

    offered = OfferedLessonOut(many=True)
    decided = LessonUseOut(many=True)
    method = serializers.CharField()
