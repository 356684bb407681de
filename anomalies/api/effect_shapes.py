"""Shapes of what actions do to a tree in the JSON API: what is sent, and the records; they never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.anomaly_shapes import key, text
from anomalies.api.doors import SignedIn, open_moves
from anomalies.api.finding_shapes import VERSION, keys
from anomalies.api.investigation_shapes import amount, event
from anomalies.models import ActionEffect, ActionTie, Baseline
from anomalies.services.baselines import TARGETS
from anomalies.states import ACTION_TIE, EFFECT

AMOUNT = (
    "multiplied: the factor. replaced: the new probability, or rate per hour. interval: hours between tests. barrier: "
    "probability that it fails. detection: share that is revealed and dealt with in time. ruled_out: none."
)


class EffectOut(serializers.ModelSerializer[ActionEffect]):
    """What an action does to one event or gate of the tree of its anomaly's investigation."""

    action = serializers.CharField(source="action.number")
    author = serializers.CharField(source="author.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = ActionEffect
        fields = (
            *("id", "action", "kind", "event", "amount", "of", "new_event", "reason", "author", "stated_at"),
            *("state", "version", "moves"),
        )

    def get_moves(self, effect: ActionEffect) -> list[str]:
        """Return the moves that are open."""
        return open_moves(EFFECT, effect, self.context["request"].user)


class TieOut(serializers.ModelSerializer[ActionTie]):
    """That an action needs another one of its anomaly, or excludes it."""

    action = serializers.CharField(source="action.number")
    other = serializers.CharField(source="other.number")
    made_by = serializers.CharField(source="made_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = ActionTie
        fields = ("id", "action", "kind", "other", "note", "made_by", "state", "version", "moves")

    def get_moves(self, tie: ActionTie) -> list[str]:
        """Return the moves that are open."""
        return open_moves(ACTION_TIE, tie, self.context["request"].user)


class BaselineOut(serializers.ModelSerializer[Baseline]):
    """Verified actions that became part of a tree; `before` and `after` are null where no exact figure was reached."""

    tree_id = serializers.IntegerField(source="revision.tree_id")
    revision = serializers.IntegerField(source="revision.number")
    actions = serializers.ListField(child=serializers.CharField())
    taken_by = serializers.CharField(source="taken_by.username")

    class Meta:
        model = Baseline
        fields = ("id", "tree_id", "revision", "actions", "before", "after", "note", "taken_by", "taken_at")


class EffectIn(serializers.Serializer[Any]):
    """What the action does to one event or gate; behind a gate only a barrier can be put."""

    kind = serializers.ChoiceField(ActionEffect.Kind.choices)
    event = event()
    amount = amount(AMOUNT)
    of = serializers.ChoiceField(ActionEffect.Of.choices, required=False, help_text="What is multiplied or replaced.")
    new_event = serializers.CharField(
        max_length=200,
        required=False,
        allow_blank=True,
        help_text="Name of the event that is added.",
    )
    reason = text(required=True)


class EstimateIn(serializers.Serializer[Any]):
    """What the action takes; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    cost = amount("In the unit that your programme uses.")
    mass_kg = amount("Kilograms.")
    crew_hours = amount("Hours of crew time.")
    lead_days = amount("Days until it is in place.")


class TieIn(serializers.Serializer[Any]):
    """Another action of the same anomaly."""

    other_id = key(required=True)
    kind = serializers.ChoiceField(ActionTie.Kind.choices)
    note = text()


class BaselineIn(SignedIn):
    """Verified actions with effects, and the tree that they become part of; under your signature."""

    action_ids = keys(required=True)
    target = serializers.ChoiceField(list(TARGETS.items()))
    note = text()


class LimitsIn(serializers.Serializer[Any]):
    """Within what the best set of actions is chosen; without any of these none is."""

    cost = serializers.FloatField(min_value=0.0, required=False, help_text="At most, summed.")
    mass = serializers.FloatField(min_value=0.0, required=False, help_text="Kilograms at most, summed.")
    crew_hours = serializers.FloatField(min_value=0.0, required=False, help_text="Hours at most, summed.")
    lead_days = serializers.FloatField(min_value=0.0, required=False, help_text="Days at most, of the slowest.")
    must = serializers.ListField(
        child=serializers.CharField(max_length=20),
        required=False,
        help_text="Numbers of actions in any case.",
    )


class FigureOut(serializers.Serializer[Any]):
    """A top-event probability; exact, with the spread that uncertain parameters give it."""

    probability = serializers.FloatField()
    p05 = serializers.FloatField(allow_null=True, help_text="Null where no parameter is uncertain.")
    p50 = serializers.FloatField(allow_null=True)
    p95 = serializers.FloatField(allow_null=True)
    mean = serializers.FloatField(allow_null=True)


class ActionBenefitOut(serializers.Serializer[Any]):
    """One action: the top event with it alone."""

    number = serializers.CharField(source="action.number")
    effects = serializers.ListField(child=serializers.CharField())
    alone = FigureOut(allow_null=True)
    left = serializers.FloatField(allow_null=True, help_text="Share of the probability before.")
    worth = serializers.FloatField(
        allow_null=True, help_text="How much more probable the top event is without it, all others in place."
    )


class StepOut(serializers.Serializer[Any]):
    """One more action, on top of those before it."""

    option = serializers.CharField(help_text="Number of the action.")
    probability = serializers.FloatField()


class InteractionOut(serializers.Serializer[Any]):
    """How far actions together differ from what they do alone."""

    recomputed = serializers.FloatField(help_text="Reduction by all together.")
    summed = serializers.FloatField(help_text="Sum of the reductions by each alone.")
    product = serializers.FloatField(help_text="Probability by the product of what each leaves.")


class PointOut(serializers.Serializer[Any]):
    """A set that no cheaper one equals."""

    cost = serializers.FloatField()
    probability = serializers.FloatField()
    options = serializers.ListField(child=serializers.CharField())


class ChoiceOut(serializers.Serializer[Any]):
    """The best set within the limits, how it was found, and how far it is from the bound that was proved."""

    chosen = serializers.ListField(child=serializers.CharField())
    probability = serializers.FloatField()
    before = serializers.FloatField()
    method = serializers.CharField()
    sets_tried = serializers.IntegerField()
    lower_bound = serializers.FloatField()
    gap = serializers.FloatField()
    frontier = PointOut(many=True, allow_null=True)
    notes = serializers.ListField(child=serializers.CharField())


class BenefitOut(serializers.Serializer[Any]):
    """What the actions of an anomaly bring. `stopped` says why there are no figures, `no_choice` why there's no set."""

    investigation_id = serializers.IntegerField(source="investigation.pk")
    before = FigureOut(source="weighed.before", allow_null=True, default=None)
    together = FigureOut(source="weighed.together", allow_null=True, default=None, help_text="Null where some clash.")
    actions = ActionBenefitOut(source="rows", many=True)
    steps = StepOut(source="weighed.steps", many=True, default=[])
    interaction = InteractionOut(source="weighed.interaction", allow_null=True, default=None)
    notes = serializers.ListField(source="weighed.notes", child=serializers.CharField(), default=[])
    baselines = BaselineOut(many=True)
    choice = ChoiceOut(allow_null=True)
    stopped = serializers.CharField()
    no_choice = serializers.CharField()
    caution = serializers.CharField()
