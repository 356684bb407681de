"""Shapes of evidence and of the timeline in the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.doors import open_moves
from anomalies.models import Evidence, EvidenceOpening, TelemetrySeries, TimelineEntry
from anomalies.services.checks import LONGEST_TEXT
from anomalies.states import EVIDENCE, TIMELINE_ENTRY, EvidenceState
from config.kit.addresses import LAST_KEY
from config.kit.api_schema import UploadField


class EvidenceOut(serializers.ModelSerializer[Evidence]):
    """One piece of evidence; its file has an address of its own."""

    anomaly = serializers.CharField(source="anomaly.number")
    label = serializers.CharField(help_text="Like E3.")  # type: ignore[assignment]
    added_by = serializers.CharField(source="added_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Evidence
        fields = (
            *("id", "anomaly", "label", "position", "kind", "title", "description", "taken_at"),
            *("statement", "stated_by", "address", "file_name", "media_type", "size", "sha256"),
            *("unit", "low", "high", "added_by", "added_at", "state", "state_reason", "version", "moves"),
        )

    def get_moves(self, evidence: Evidence) -> list[str]:
        """Return the moves that are open."""
        return open_moves(EVIDENCE, evidence, self.context["request"].user)


class EvidenceFilters(serializers.Serializer[Any]):
    """Which evidence is listed; what is left out lets all through."""

    anomaly = serializers.CharField(required=False, help_text="Number of the anomaly.")
    kind = serializers.ChoiceField(Evidence.Kind.choices, required=False)
    state = serializers.ChoiceField(EvidenceState.choices, required=False)


class EvidenceIn(serializers.Serializer[Any]):
    """A new piece of evidence. Which fields a kind needs and which files it takes, the answer says."""

    kind = serializers.ChoiceField(Evidence.Kind.choices)
    title = serializers.CharField(max_length=200)
    description = serializers.CharField(max_length=LONGEST_TEXT, required=False, allow_blank=True)
    taken_at = serializers.DateTimeField(required=False, allow_null=True)
    statement = serializers.CharField(max_length=LONGEST_TEXT, required=False, allow_blank=True)
    stated_by = serializers.CharField(max_length=200, required=False, allow_blank=True)
    address = serializers.CharField(max_length=1000, required=False, allow_blank=True)
    unit = serializers.CharField(max_length=40, required=False, allow_blank=True)
    low = serializers.FloatField(required=False, allow_null=True)
    high = serializers.FloatField(required=False, allow_null=True)
    file = UploadField(required=False, allow_empty_file=True, max_length=None)


class EvidenceChanges(serializers.Serializer[Any]):
    """Corrections; what is left out stays. Only telemetry has limits."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")
    title = serializers.CharField(max_length=200, required=False)
    description = serializers.CharField(max_length=LONGEST_TEXT, required=False, allow_blank=True)
    taken_at = serializers.DateTimeField(required=False, allow_null=True)
    low = serializers.FloatField(required=False, allow_null=True)
    high = serializers.FloatField(required=False, allow_null=True)


class OpeningOut(serializers.ModelSerializer[EvidenceOpening]):
    """That somebody opened the file."""

    person = serializers.CharField(source="person.username")

    class Meta:
        model = EvidenceOpening
        fields = ("id", "person", "opened_at")


class PointOut(serializers.ListField):
    """A moment in ISO 8601, and a value."""

    child = serializers.JSONField()


class SpanOut(serializers.Serializer[Any]):
    """A run of samples out of one limit; `is_open` if the series ends out of it."""

    side = serializers.ChoiceField(("above", "below"))
    limit = serializers.FloatField()
    start = serializers.DateTimeField()
    end = serializers.DateTimeField()
    extreme = serializers.FloatField()
    at = serializers.DateTimeField(help_text="When the extreme was first reached.")
    samples = serializers.IntegerField()
    is_open = serializers.BooleanField()


class TelemetryOut(serializers.ModelSerializer[TelemetrySeries]):
    """A series: thinned so that every extreme is kept, and the first 2,000 of its spans out of limits."""

    unit = serializers.CharField(source="evidence.unit")
    low = serializers.FloatField(source="evidence.low", allow_null=True)
    high = serializers.FloatField(source="evidence.high", allow_null=True)
    points = serializers.ListField(child=PointOut())
    spans = SpanOut(many=True)

    class Meta:
        model = TelemetrySeries
        fields = (
            *("unit", "low", "high", "samples", "start", "end", "least", "greatest"),
            *("points", "spans", "spans_in_all"),
        )


class EntryOut(serializers.ModelSerializer[TimelineEntry]):
    """One entry of a timeline."""

    anomaly = serializers.CharField(source="anomaly.number")
    evidence = serializers.IntegerField(source="evidence_id", allow_null=True)
    added_by = serializers.CharField(source="added_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = TimelineEntry
        fields = ("id", "anomaly", "at", "text", "evidence", "added_by", "state", "state_reason", "version", "moves")

    def get_moves(self, entry: TimelineEntry) -> list[str]:
        """Return the moves that are open."""
        return open_moves(TIMELINE_ENTRY, entry, self.context["request"].user)


class EntryIn(serializers.Serializer[Any]):
    """What happened at a moment, and on which held evidence of the same anomaly, by its id, if on any."""

    at = serializers.DateTimeField()
    text = serializers.CharField(max_length=LONGEST_TEXT)
    evidence_id = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=LAST_KEY)


class EntryChanges(serializers.Serializer[Any]):
    """Corrections; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")
    at = serializers.DateTimeField(required=False)
    text = serializers.CharField(max_length=LONGEST_TEXT, required=False)
    evidence_id = serializers.IntegerField(required=False, allow_null=True, min_value=1, max_value=LAST_KEY)
