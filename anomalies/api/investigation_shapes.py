"""Shapes of investigations by a fault tree in the JSON API: what is sent, and the records; they never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.anomaly_shapes import key, text
from anomalies.api.doors import open_moves
from anomalies.api.finding_shapes import VERSION, keys
from anomalies.models import Bearing, Disposition, Inspection, Investigation
from anomalies.states import BEARING, INSPECTION, INVESTIGATION, CauseState, InvestigationState

NAME = "Name of a basic event or gate of the tree."
SENSITIVITY = "P(it finds the event, given that it occurred)."
FALSE_ALARM = "P(it finds the event, given that it did not occur)."


def event(**more: Any) -> serializers.CharField:
    """The name of an event or gate."""
    return serializers.CharField(max_length=200, help_text=NAME, **more)


def rate(help_text: str, **more: Any) -> serializers.FloatField:
    """A probability."""
    return serializers.FloatField(min_value=0.0, max_value=1.0, help_text=help_text, **more)


def amount(help_text: str) -> serializers.FloatField:
    """A number, 0 or more, or null."""
    return serializers.FloatField(min_value=0.0, allow_null=True, required=False, help_text=help_text)


def hours() -> serializers.FloatField:
    """The mission time."""
    return amount("Hours; needed where probabilities of the tree depend on it.")


class DispositionOut(serializers.ModelSerializer[Disposition]):
    """What the board holds of an event, and the ids of what that stands on."""

    judged_by = serializers.CharField(source="judged_by.username", allow_null=True, default=None)
    evidence = serializers.SerializerMethodField()
    findings = serializers.SerializerMethodField()

    class Meta:
        model = Disposition
        fields = ("id", "event", "state", "rationale", "judged_by", "judged_at", "evidence", "findings")

    def get_evidence(self, row: Disposition) -> list[int]:
        """Return the ids of the evidence."""
        return [each.evidence_id for each in row.judged_on.all() if each.active]

    def get_findings(self, row: Disposition) -> list[int]:
        """Return the ids of the findings."""
        return [each.finding_id for each in row.rests_on.all() if each.active]


class InspectionOut(serializers.ModelSerializer[Inspection]):
    """Something that could be looked at or tested, or that was."""

    anomaly = serializers.CharField(source="anomaly.number")
    label = serializers.CharField(help_text="Like I2.")  # type: ignore[assignment]
    added_by = serializers.CharField(source="added_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Inspection
        fields = (
            *("id", "anomaly", "investigation_id", "label", "event", "title", "sensitivity", "false_alarm", "basis"),
            *("cost", "hours", "needs_outing", "found", "result_note", "added_by", "state", "version", "moves"),
        )

    def get_moves(self, inspection: Inspection) -> list[str]:
        """Return the moves that are open."""
        return open_moves(INSPECTION, inspection, self.context["request"].user)


class BearingOut(serializers.ModelSerializer[Bearing]):
    """What a piece of evidence says of an event."""

    anomaly = serializers.CharField(source="anomaly.number")
    label = serializers.CharField(help_text="Like B2.")  # type: ignore[assignment]
    author = serializers.CharField(source="author.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Bearing
        fields = (
            *("id", "anomaly", "investigation_id", "label", "event", "says", "ratio", "sensitivity", "false_alarm"),
            *("found", "justification", "evidence_id", "finding_id", "inspection_id", "author", "entered_at"),
            *("state", "version", "moves"),
        )

    def get_moves(self, bearing: Bearing) -> list[str]:
        """Return the moves that are open."""
        return open_moves(BEARING, bearing, self.context["request"].user)


class InvestigationBrief(serializers.ModelSerializer[Investigation]):
    """An investigation, without what follows from it: which tree is in use, and how far the work is."""

    anomaly = serializers.CharField(source="anomaly.number")
    tree = serializers.CharField(source="revision.tree.name")
    revision = serializers.IntegerField(source="revision.number", help_text="The revision of the tree in use.")
    origin_tree_id = serializers.IntegerField(source="origin.tree_id", help_text="The tree that it was copied from.")
    origin_revision = serializers.IntegerField(source="origin.number")
    opened_by = serializers.CharField(source="opened_by.username")
    concluded_by = serializers.CharField(source="concluded_by.username", allow_null=True, default=None)
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Investigation
        fields: tuple[str, ...] = (
            *("id", "anomaly", "tree_id", "tree", "revision", "origin_tree_id", "origin_revision", "top"),
            *("mission_time", "opened_by", "opened_at", "conclusion", "concluded_by", "concluded_at"),
            *("state", "version", "moves"),
        )

    def get_moves(self, investigation: Investigation) -> list[str]:
        """Return the moves that are open."""
        return open_moves(INVESTIGATION, investigation, self.context["request"].user)


class InvestigationFilters(serializers.Serializer[Any]):
    """Which investigations are listed; what is left out lets all through."""

    state = serializers.ChoiceField(InvestigationState.choices, required=False)


class OpenIn(serializers.Serializer[Any]):
    """The revision of a tree that is copied, and its gate that says what happened."""

    revision_id = key(required=True)
    top = serializers.CharField(max_length=200, help_text="The gate that says what happened.")
    mission_time = hours()


class TimeIn(serializers.Serializer[Any]):
    """Another mission time."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    mission_time = serializers.FloatField(min_value=0.0, allow_null=True, help_text="Hours.")


class JudgeIn(serializers.Serializer[Any]):
    """A disposition of events and gates. Ruled out enters the tree as "did not occur", confirmed as "occurred"."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    events = serializers.ListField(child=event(), min_length=1, max_length=500)
    disposition = serializers.ChoiceField(CauseState.choices)
    rationale = text(required=True)
    evidence_ids = keys()
    finding_ids = keys()


class WeighIn(serializers.Serializer[Any]):
    """What evidence or a finding says of an event; a test needs its rates and result, a ratio the ratio."""

    event = event()
    says = serializers.ChoiceField(Bearing.Says.choices)
    justification = text(required=True)
    evidence_id = key(required=False)
    finding_id = key(required=False)
    ratio = amount("P(this evidence | the event occurred) / P(this evidence | it did not), above 0.")
    sensitivity = rate(SENSITIVITY, required=False, allow_null=True)
    false_alarm = rate(FALSE_ALARM, required=False, allow_null=True)
    found = serializers.BooleanField(required=False, allow_null=True, help_text="How the test ended.")


class DetailsIn(serializers.Serializer[Any]):
    """What may also be said of an inspection."""

    basis = text()
    cost = amount("In the unit that your programme uses.")
    hours = amount("Working hours.")
    needs_outing = serializers.BooleanField(required=False)


class InspectionIn(DetailsIn):
    """A possible inspection."""

    event = event()
    title = serializers.CharField(max_length=200)
    sensitivity = rate(SENSITIVITY)
    false_alarm = rate(FALSE_ALARM)


class InspectionChanges(DetailsIn):
    """Put otherwise; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    title = serializers.CharField(max_length=200, required=False)
    sensitivity = rate(SENSITIVITY, required=False)
    false_alarm = rate(FALSE_ALARM, required=False)


class ResultIn(serializers.Serializer[Any]):
    """How an inspection ended, and the evidence or finding that shows it."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    found = serializers.BooleanField(help_text="Whether it found the event.")
    note = text(required=True)
    evidence_id = key(required=False)
    finding_id = key(required=False)


class ConclusionIn(serializers.Serializer[Any]):
    """What it was, and what it was not."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    conclusion = text(required=True)
