"""Shapes of procedures, revisions and steps in the JSON API; they check and show, and never save."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rest_framework import serializers

from anomalies.api.anomaly_shapes import key, text
from anomalies.api.doors import SignedIn, open_moves
from anomalies.models import Acknowledgement, Procedure, ProcedureRevision
from anomalies.reads.procedure_pages import SHOW
from anomalies.states import PROCEDURE_REVISION
from anomalies.steps import NoticeKind, StepKind, number_steps
from config.kit.addresses import LAST_KEY

KEY = 64


class ProcedureOut(serializers.ModelSerializer[Procedure]):
    """A procedure; its steps are in its revisions."""

    class Meta:
        model = Procedure
        fields = ("id", "number", "title", "kind", "version")


class ProcedureFilters(serializers.Serializer[Any]):
    """Which procedures are listed; what is left out lets all through."""

    words = serializers.CharField(required=False, max_length=200)
    kind = serializers.ChoiceField(Procedure.Kind.choices, required=False)
    show = serializers.ChoiceField([(name, label) for name, label in SHOW.items() if name], required=False)


class ProcedureIn(serializers.Serializer[Any]):
    """A new procedure, still without steps."""

    title = serializers.CharField(max_length=200)
    kind = serializers.ChoiceField(Procedure.Kind.choices)


class ProcedureChanges(serializers.Serializer[Any]):
    """Another title, until a revision was submitted."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")
    title = serializers.CharField(max_length=200)


class ReadingOut(serializers.Serializer[Any]):
    """What an instrument should show; limits are decimals as they were written."""

    expected = serializers.CharField(allow_blank=True)
    unit = serializers.CharField(allow_blank=True)
    low = serializers.CharField(allow_blank=True)
    high = serializers.CharField(allow_blank=True)


class NoticeOut(serializers.Serializer[Any]):
    """Something to know before the step is done."""

    key = serializers.CharField()
    kind = serializers.ChoiceField(NoticeKind.choices)
    text = serializers.CharField()


class StepOut(serializers.Serializer[Any]):
    """One step, in reading order; `parent` is the key of the step above it, empty at the top."""

    key = serializers.CharField()
    parent = serializers.CharField(allow_blank=True)  # type: ignore[assignment]
    number = serializers.CharField(help_text="Like 3.2.1.")
    kind = serializers.ChoiceField(StepKind.choices)
    text = serializers.CharField()
    reading = ReadingOut(allow_null=True)
    notices = NoticeOut(many=True)


class ProcedureRevisionRow(serializers.ModelSerializer[ProcedureRevision]):
    """A revision without its steps."""

    procedure = serializers.CharField(source="procedure.number")
    base = serializers.IntegerField(source="base.number", allow_null=True, default=None)
    anomaly = serializers.CharField(source="anomaly.number", allow_null=True, default=None)
    action = serializers.CharField(source="action.number", allow_null=True, default=None)
    author = serializers.CharField(source="author.username")
    approver = serializers.CharField(source="approver.username", allow_null=True, default=None)
    effective_from = serializers.IntegerField(source="effective_from_id", allow_null=True, help_text="An activity.")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = ProcedureRevision
        fields: tuple[str, ...] = (
            *("id", "procedure", "number", "base", "summary", "anomaly", "action", "author", "approver"),
            *("approved_at", "released_at", "effective_from", "state", "state_reason", "version", "moves"),
        )

    def get_moves(self, revision: ProcedureRevision) -> list[str]:
        """Return the moves that are open."""
        return open_moves(PROCEDURE_REVISION, revision, self.context["request"].user)


class ProcedureRevisionOut(ProcedureRevisionRow):
    """A revision with its steps."""

    steps = serializers.SerializerMethodField()

    class Meta(ProcedureRevisionRow.Meta):
        fields = (*ProcedureRevisionRow.Meta.fields, "steps")

    def get_steps(self, revision: ProcedureRevision) -> list[dict[str, Any]]:
        """Return the steps in reading order, numbered."""
        steps = revision.read_steps()
        numbers = number_steps(steps)
        return [dict(StepOut(asdict(step) | {"number": numbers[step.key]}).data) for step in steps]


class ProcedureRevisionIn(serializers.Serializer[Any]):
    """What changes, and what asks for it: an action, or an anomaly alone, or neither."""

    summary = text(required=True)
    action_id = key(required=False)
    anomaly_id = key(required=False)


class ProcedureRevisionChanges(ProcedureRevisionIn):
    """Corrections of a draft; what is left out stays."""

    summary = text()
    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")


class VersionIn(serializers.Serializer[Any]):
    """The version that was read."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")


class ReleaseIn(SignedIn):
    """A signature, and the activity from whose planned start on the revision is in force."""

    effective_from_id = key()


class ReadingIn(serializers.Serializer[Any]):
    """What an instrument should show: in words, or between limits written as decimals."""

    expected = serializers.CharField(max_length=200, allow_blank=True, default="")
    unit = serializers.CharField(max_length=20, allow_blank=True, default="")
    low = serializers.CharField(max_length=30, allow_blank=True, default="")
    high = serializers.CharField(max_length=30, allow_blank=True, default="")


class StepChanges(VersionIn):
    """What a step says; what is left out stays, and a reading is given whole."""

    kind = serializers.ChoiceField(StepKind.choices, required=False)
    text = serializers.CharField(max_length=2000, required=False)
    reading = ReadingIn(required=False, allow_null=True)


class StepIn(VersionIn):
    """A new step, below `parent` (empty: at the top), after its sibling `after` (empty: first, null: last)."""

    kind = serializers.ChoiceField(StepKind.choices)
    text = serializers.CharField(max_length=2000)
    parent = serializers.CharField(max_length=KEY, allow_blank=True, default="")  # type: ignore[assignment]
    after = serializers.CharField(max_length=KEY, allow_blank=True, allow_null=True, default=None)
    reading = ReadingIn(required=False, allow_null=True)


class PlaceIn(VersionIn):
    """Where a step goes: as for a new one."""

    parent = serializers.CharField(max_length=KEY, allow_blank=True, default="")  # type: ignore[assignment]
    after = serializers.CharField(max_length=KEY, allow_blank=True, allow_null=True, default=None)


class NoticeIn(VersionIn):
    """A warning, caution or note."""

    kind = serializers.ChoiceField(NoticeKind.choices)
    text = serializers.CharField(max_length=500)


class ReaderOut(serializers.Serializer[Any]):
    """Somebody of a crew who must read the revision, and when they did."""

    person = serializers.CharField(source="crew.person.username")
    role = serializers.CharField(source="crew.role")
    activity = serializers.IntegerField(source="crew.activity_id")
    read_at = serializers.DateTimeField(source="read.acknowledged_at", allow_null=True, default=None)


class AcknowledgementOut(serializers.ModelSerializer[Acknowledgement]):
    """That somebody has read the revision."""

    person = serializers.CharField(source="person.username")

    class Meta:
        model = Acknowledgement
        fields = ("id", "person", "acknowledged_at")


class RedlineIn(serializers.Serializer[Any]):
    """What the revision is compared with."""

    before = serializers.IntegerField(
        min_value=1,
        max_value=LAST_KEY,
        required=False,
        help_text="The number of an earlier revision; without it, the one that it was drafted from.",
    )


class RedlineOut(serializers.Serializer[Any]):
    """What the revision changes in the earlier one, whose number is `base`, step by step and word by word."""

    base = serializers.IntegerField(allow_null=True)
    counts = serializers.DictField(child=serializers.IntegerField())
    lines = serializers.ListField(child=serializers.DictField())
