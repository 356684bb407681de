"""Shapes of anomalies, their constraints and links in the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.doors import SignedIn, open_moves
from anomalies.models import Anomaly, AnomalyLink, Constraint
from anomalies.reads.log import SORTS
from anomalies.risk import Probability, Risk, Severity
from anomalies.services.checks import LONGEST_TEXT
from anomalies.states import ANOMALY, CONSTRAINT, LINK, AnomalyState, ConstraintState, LinkState
from config.kit.addresses import LAST_KEY


def key(*, required: bool = True, help_text: str = "") -> serializers.IntegerField:
    """The id of another record."""
    return serializers.IntegerField(
        min_value=1, max_value=LAST_KEY, required=required, allow_null=not required, help_text=help_text
    )


def text(*, required: bool = False) -> serializers.CharField:
    """Text of any length that services take."""
    return serializers.CharField(max_length=LONGEST_TEXT, required=required, allow_blank=not required)


class AnomalyOut(serializers.ModelSerializer[Anomaly]):
    """An anomaly. `hardware` holds the ids of the items concerned."""

    activity = serializers.IntegerField(source="activity_id", allow_null=True)
    lead = serializers.CharField(source="lead.username", allow_null=True, default=None)
    recorded_by = serializers.CharField(source="recorded_by.username")
    mission_time = serializers.CharField(help_text="Empty where this installation has no mission clock.")
    risk_code = serializers.CharField(help_text="Like 2C; empty before screening.")
    risk = serializers.CharField(allow_null=True)
    hardware = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Anomaly
        fields = (
            *("id", "number", "title", "description", "occurred_at", "mission_time", "place", "activity"),
            *("activity_cut_short", "immediate_response", "hardware", "severity", "probability", "risk_code", "risk"),
            *("risk_rationale", "lead", "recorded_by", "recorded_at", "reported_at", "screened_at"),
            *("unexplained_rationale", "closing_statement", "closed_at", "state", "version", "moves"),
        )

    def get_hardware(self, anomaly: Anomaly) -> list[int]:
        """Return the ids of the items concerned."""
        return [row.item_id for row in anomaly.hardware_concerned.all() if row.active]

    def get_moves(self, anomaly: Anomaly) -> list[str]:
        """Return the moves that are open."""
        return open_moves(ANOMALY, anomaly, self.context["request"].user)


class AnomalyFilters(serializers.Serializer[Any]):
    """Which anomalies are listed, as in the log; what is left out lets all through."""

    words = serializers.CharField(required=False, max_length=200)
    state = serializers.ChoiceField(AnomalyState.choices, required=False)
    risk = serializers.ChoiceField(Risk.choices, required=False)
    severity = serializers.ChoiceField(Severity.choices, required=False)
    lead = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    activity = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    type = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY, help_text="Of hardware.")
    year = serializers.IntegerField(required=False, min_value=1, max_value=9999)
    mine = serializers.BooleanField(required=False, help_text="That you lead or recorded.")
    holds = serializers.BooleanField(required=False, help_text="That hold something up.")
    sort = serializers.ChoiceField([(name, label) for name, label in SORTS.items() if name], required=False)


class StoryIn(serializers.Serializer[Any]):
    """What was seen."""

    title = serializers.CharField(max_length=200)
    description = text()
    occurred_at = serializers.DateTimeField()
    place = serializers.CharField(max_length=200, required=False, allow_blank=True)
    activity_id = key(required=False)
    activity_cut_short = serializers.BooleanField(required=False)
    immediate_response = text()


class ReportIn(StoryIn):
    """A report, or a draft that only you see."""

    hardware_ids = serializers.ListField(child=key(), required=False, max_length=500)
    is_draft = serializers.BooleanField(required=False, default=False)


class StoryChanges(StoryIn):
    """Corrections; what is left out stays."""

    title = serializers.CharField(max_length=200, required=False)
    occurred_at = serializers.DateTimeField(required=False)
    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")
    reason = text()


class RiskIn(serializers.Serializer[Any]):
    """A cell of the risk matrix, and why."""

    severity = serializers.ChoiceField(Severity.choices)
    probability = serializers.ChoiceField(Probability.choices)
    rationale = text(required=True)


class ScreenIn(RiskIn):
    """The risk, and who leads the work."""

    lead_id = key()


class AssignIn(serializers.Serializer[Any]):
    """Who leads from now on."""

    lead_id = key()
    reason = text()


class AcceptIn(SignedIn):
    """What was tried, and why the risk that remains is acceptable; under your signature."""

    rationale = text(required=True)


class CloseIn(SignedIn):
    """What happened, why, and what was changed; under your signature."""

    statement = text(required=True)


class ItemIn(serializers.Serializer[Any]):
    """A hardware item."""

    item_id = key()


class ConstrainIn(serializers.Serializer[Any]):
    """What must not be done, in one activity or with one type of hardware."""

    statement = text(required=True)
    activity_id = key(required=False)
    hardware_type_id = key(required=False)


class ConstraintOut(serializers.ModelSerializer[Constraint]):
    """A constraint."""

    anomaly = serializers.CharField(source="anomaly.number", allow_null=True)
    activity = serializers.IntegerField(source="activity_id", allow_null=True)
    hardware_type = serializers.IntegerField(source="hardware_type_id", allow_null=True)
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Constraint
        fields = (
            *("id", "anomaly", "statement", "activity", "hardware_type", "resolution", "state", "version", "moves"),
        )

    def get_moves(self, constraint: Constraint) -> list[str]:
        """Return the moves that are open."""
        return open_moves(CONSTRAINT, constraint, self.context["request"].user)


class ConstraintFilters(serializers.Serializer[Any]):
    """Which constraints are listed."""

    anomaly = serializers.CharField(required=False, max_length=20, help_text="Number of the anomaly.")
    activity = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    hardware_type = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    state = serializers.ChoiceField(ConstraintState.choices, required=False)


class ResolveIn(serializers.Serializer[Any]):
    """How the constraint was dealt with."""

    resolution = text(required=True)


class LinkIn(serializers.Serializer[Any]):
    """What this anomaly is to another one."""

    kind = serializers.ChoiceField(AnomalyLink.Kind.choices)
    target = serializers.CharField(max_length=20, help_text="Number of the other one.")
    note = text()


class LinkOut(serializers.ModelSerializer[AnomalyLink]):
    """That the source is related to, a duplicate of, or a recurrence of the target."""

    source = serializers.CharField(source="source.number")  # type: ignore[assignment]
    target = serializers.CharField(source="target.number")
    made_by = serializers.CharField(source="made_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = AnomalyLink
        fields = ("id", "source", "kind", "target", "note", "made_by", "state", "version", "moves")

    def get_moves(self, link: AnomalyLink) -> list[str]:
        """Return the moves that are open."""
        return open_moves(LINK, link, self.context["request"].user)


class LinkFilters(serializers.Serializer[Any]):
    """Which links are listed."""

    anomaly = serializers.CharField(required=False, max_length=20, help_text="Number of the anomaly at either end.")
    kind = serializers.ChoiceField(AnomalyLink.Kind.choices, required=False)
    state = serializers.ChoiceField(LinkState.choices, required=False)


class EventOut(serializers.Serializer[Any]):
    """One entry of the ledger, as people read it."""

    sequence = serializers.IntegerField()
    at = serializers.DateTimeField()
    who = serializers.CharField()
    action = serializers.CharField()
    kind = serializers.CharField()
    record_id = serializers.IntegerField()
    reason = serializers.CharField()
    changes = serializers.ListField(child=serializers.DictField(child=serializers.CharField()))
