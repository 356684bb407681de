"""Shapes of activities in the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from anomalies.api.anomaly_shapes import key
from anomalies.api.doors import ReasonIn, open_moves
from anomalies.models import Activity, CrewAssignment, ProcedureUse
from anomalies.states import ACTIVITY, ActivityState
from config.kit.addresses import LAST_KEY


class CrewOut(serializers.ModelSerializer[CrewAssignment]):
    """Somebody's role in an activity."""

    person = serializers.CharField(source="person.username")

    class Meta:
        model = CrewAssignment
        fields = ("person_id", "person", "role")


class ProcedureUsedOut(serializers.ModelSerializer[ProcedureUse]):
    """A procedure that is used; whoever has the role must have read it, without a role everybody."""

    class Meta:
        model = ProcedureUse
        fields = ("procedure_id", "role")


class ActivityOut(serializers.ModelSerializer[Activity]):
    """An activity. `hardware` holds the ids of the items on its list."""

    tasks = serializers.ListField(child=serializers.CharField())
    lead = serializers.CharField(source="lead.username")
    crew = serializers.SerializerMethodField()
    hardware = serializers.SerializerMethodField()
    procedures = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Activity
        fields = (
            *("id", "kind", "title", "tasks", "planned_start", "planned_end", "actual_start", "actual_end"),
            *("lead_id", "lead", "crew", "hardware", "procedures", "state", "state_reason", "version", "moves"),
        )

    @extend_schema_field(CrewOut(many=True))
    def get_crew(self, activity: Activity) -> Any:
        """Return who has which role."""
        return CrewOut([row for row in activity.crew.all() if row.active], many=True).data

    def get_hardware(self, activity: Activity) -> list[int]:
        """Return the ids of the items."""
        return [row.item_id for row in activity.hardware_uses.all() if row.active]

    @extend_schema_field(ProcedureUsedOut(many=True))
    def get_procedures(self, activity: Activity) -> Any:
        """Return which procedures are used, and who must have read them."""
        return ProcedureUsedOut([row for row in activity.procedure_uses.all() if row.active], many=True).data

    def get_moves(self, activity: Activity) -> list[str]:
        """Return the moves that are open."""
        return open_moves(ACTIVITY, activity, self.context["request"].user)


class ActivityFilters(serializers.Serializer[Any]):
    """Which activities are listed; what is left out lets all through."""

    kind = serializers.ChoiceField(Activity.Kind.choices, required=False)
    state = serializers.ChoiceField(ActivityState.choices, required=False)
    lead = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    starts_after = serializers.DateTimeField(required=False, help_text="Planned to start then or later.")
    starts_before = serializers.DateTimeField(required=False, help_text="Planned to start before then.")


class PlanIn(serializers.Serializer[Any]):
    """A plan."""

    kind = serializers.ChoiceField(Activity.Kind.choices)
    title = serializers.CharField(max_length=200)
    planned_start = serializers.DateTimeField()
    planned_end = serializers.DateTimeField()
    lead_id = key()
    tasks = serializers.ListField(child=serializers.CharField(max_length=200), required=False, max_length=500)


class PlanChanges(serializers.Serializer[Any]):
    """Another plan; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")
    kind = serializers.ChoiceField(Activity.Kind.choices, required=False)
    title = serializers.CharField(max_length=200, required=False)
    planned_start = serializers.DateTimeField(required=False)
    planned_end = serializers.DateTimeField(required=False)
    lead_id = serializers.IntegerField(min_value=1, max_value=LAST_KEY, required=False)
    tasks = serializers.ListField(child=serializers.CharField(max_length=200), required=False, max_length=500)


class AtIn(serializers.Serializer[Any]):
    """When it happened; now, if it's left out."""

    at = serializers.DateTimeField(required=False)


class EndedIn(AtIn, ReasonIn):
    """When it was broken off, and why."""


class CrewIn(serializers.Serializer[Any]):
    """A person and a role."""

    person_id = key()
    role = serializers.CharField(max_length=80)


class ProcedureUsedIn(serializers.Serializer[Any]):
    """A procedure, and the role that must have read it; without one it's everybody on the crew."""

    procedure_id = key()
    role = serializers.CharField(max_length=80, required=False, allow_blank=True)
