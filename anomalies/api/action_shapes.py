"""Shapes of corrective actions in the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.anomaly_shapes import key, text
from anomalies.api.doors import SignedIn, open_moves
from anomalies.api.finding_shapes import VERSION, keys
from anomalies.models import ActionEvidence, CorrectiveAction
from anomalies.reads.actions import SHOW
from anomalies.states import ACTION, ActionState
from config.kit.addresses import LAST_KEY

Kind, Retest, Use = CorrectiveAction.Kind, CorrectiveAction.Retest, ActionEvidence.Use


class ActionOut(serializers.ModelSerializer[CorrectiveAction]):
    """A corrective action. Causes it addresses, evidence that it was done and that it meets its criteria, by id."""

    anomaly = serializers.CharField(source="anomaly.number")
    owner = serializers.CharField(source="owner.username", allow_null=True, default=None)
    proposed_by = serializers.CharField(source="proposed_by.username")
    doer = serializers.CharField(source="doer.username", allow_null=True, default=None)
    verifier = serializers.CharField(source="verifier.username", allow_null=True, default=None)
    causes = serializers.SerializerMethodField()
    done_evidence = serializers.SerializerMethodField()
    verified_evidence = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = CorrectiveAction
        fields = (
            *("id", "number", "anomaly", "kind", "title", "description", "acceptance_criteria", "causes"),
            *("owner", "due_on", "needed_before_id", "watch_activities", "proposed_by", "proposed_at"),
            *("cost", "mass_kg", "crew_hours", "lead_days"),
            *("doer", "done_at", "done_note", "done_evidence", "removed_item_id", "installed_item_id"),
            *("retest", "retest_note", "kit_item", "kit_quantity", "kit_stowage", "kit_delivery"),
            *("verifier", "verified_at", "verification_note", "verified_evidence", "effectiveness_note"),
            *("state", "state_reason", "version", "moves"),
        )

    def get_causes(self, action: CorrectiveAction) -> list[int]:
        """Return the ids of the causes."""
        return [row.cause_id for row in action.addresses.all() if row.active]

    def get_done_evidence(self, action: CorrectiveAction) -> list[int]:
        """Return the ids of the evidence that it was done."""
        return _shown(action, Use.DONE)

    def get_verified_evidence(self, action: CorrectiveAction) -> list[int]:
        """Return the ids of the evidence that it meets its criteria."""
        return _shown(action, Use.VERIFIED)

    def get_moves(self, action: CorrectiveAction) -> list[str]:
        """Return the moves that are open."""
        return open_moves(ACTION, action, self.context["request"].user)


def _shown(action: CorrectiveAction, use: str) -> list[int]:
    return [row.evidence_id for row in action.shown_by.all() if row.active and row.use == use]


class ActionFilters(serializers.Serializer[Any]):
    """Which actions are listed; what is left out lets all through."""

    words = serializers.CharField(required=False, max_length=200)
    show = serializers.ChoiceField([(name, label) for name, label in SHOW.items() if name], default="all")
    anomaly = serializers.CharField(required=False, max_length=20, help_text="Number of the anomaly.")
    kind = serializers.ChoiceField(Kind.choices, required=False)
    state = serializers.ChoiceField(ActionState.choices, required=False)
    owner = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    before = serializers.IntegerField(
        required=False, min_value=1, max_value=LAST_KEY, help_text="The activity that it's needed before."
    )


class DetailsIn(serializers.Serializer[Any]):
    """What may also be said of an action."""

    description = text()
    acceptance_criteria = text()
    needed_before_id = key(required=False)
    watch_activities = serializers.IntegerField(required=False, allow_null=True, min_value=0, max_value=32767)


class ActionIn(DetailsIn):
    """A new action, and the causes that it addresses."""

    kind = serializers.ChoiceField(Kind.choices)
    title = serializers.CharField(max_length=200)
    cause_ids = keys()


class ActionChanges(DetailsIn):
    """Put otherwise; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    kind = serializers.ChoiceField(Kind.choices, required=False)
    title = serializers.CharField(max_length=200, required=False)


class CauseIdsIn(serializers.Serializer[Any]):
    """Causes of the same anomaly."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    cause_ids = keys(required=True)


class CommitIn(serializers.Serializer[Any]):
    """Who sees it done, by which day (UTC), against which criteria if they aren't said yet."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    owner_id = key()
    due_on = serializers.DateField()
    acceptance_criteria = text()


class RecommitIn(CommitIn):
    """The same, and why it's another."""

    reason = text(required=True)


class DoIn(serializers.Serializer[Any]):
    """What was done, by whom (you, if it isn't said), and what its kind asks for besides."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    note = text(required=True)
    done_at = serializers.DateTimeField(required=False)
    doer_id = key(required=False)
    evidence_ids = keys()
    removed_item_id = key(required=False)
    installed_item_id = key(required=False)
    retest = serializers.ChoiceField(Retest.choices, required=False, allow_blank=True)
    retest_note = text()
    kit_item = serializers.CharField(max_length=200, required=False, allow_blank=True)
    kit_quantity = serializers.IntegerField(required=False, allow_null=True, min_value=0, max_value=2**31 - 1)
    kit_stowage = serializers.CharField(max_length=200, required=False, allow_blank=True)
    kit_delivery = serializers.CharField(max_length=200, required=False, allow_blank=True)


class VerifyIn(SignedIn):
    """What you looked at, and the evidence; under your signature."""

    note = text(required=True)
    evidence_ids = keys(required=True)


class NoteIn(serializers.Serializer[Any]):
    """On what it counts."""

    note = text(required=True)
