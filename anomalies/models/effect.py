"""What corrective actions do to a fault tree, how they stand to each other, and which became its baseline."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.action import CorrectiveAction
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Record, RecordQuerySet
from anomalies.models.investigation import Investigation
from anomalies.states import EffectState, TieState
from config.kit.permissions import Actor, allows


class EffectQuerySet(RecordQuerySet["ActionEffect"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> EffectQuerySet:
        """All for those who may see actions, none for the others."""
        return self if allows(actor, "action.view") else self.none()

    def standing(self) -> EffectQuerySet:
        """Not withdrawn."""
        return self.filter(state=EffectState.STANDING)


class ActionEffect(Record):
    """What an action does to one event or gate of the tree of its anomaly's investigation.

    amount      multiplied: the factor. replaced: the new probability, or rate per hour. interval: hours between tests.
                barrier: probability that it fails. detection: share that is revealed and dealt with in time.
    of          what a factor or a replacement is of: the probability, or the rate
    new_event   name of the event that a barrier or a detection adds
    """

    class Kind(models.TextChoices):
        """What is done to the event."""

        RULED_OUT = "ruled_out", "Can't occur any more"
        MULTIPLIED = "multiplied", "Multiplied by a factor"
        REPLACED = "replaced", "Replaced by another value"
        INTERVAL = "interval", "Another test interval"
        BARRIER = "barrier", "A barrier behind it"
        DETECTION = "detection", "Detected in time"

    class Of(models.TextChoices):
        """What is multiplied or replaced."""

        PROBABILITY = "probability", "probability"
        RATE = "rate", "rate"

    KIND = "effect"

    action = models.ForeignKey(CorrectiveAction, on_delete=models.PROTECT, related_name="effects")
    position = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    event = models.CharField(max_length=200)
    amount = models.FloatField(null=True, blank=True)
    of = models.CharField(max_length=12, choices=Of.choices, default=Of.PROBABILITY)
    new_event = models.CharField(max_length=200, blank=True)
    reason = models.TextField()
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    stated_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=EffectState.choices, default=EffectState.STANDING)

    objects = EffectQuerySet.as_manager()

    class Meta:
        ordering = ("action", "position")
        constraints = (
            models.UniqueConstraint(fields=("action", "position"), name="effect_position_once"),
            models.CheckConstraint(condition=Q(state__in=EffectState.values), name="effect_state_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="effect_says_why"),
            models.CheckConstraint(condition=Q(kind="ruled_out") | Q(amount__gte=0), name="effect_has_an_amount"),
        )

    def __str__(self) -> str:
        return f"{self.event}: {self.get_kind_display().lower()}"

    @property
    def anomaly(self) -> Anomaly:
        """The anomaly that the action belongs to."""
        return self.action.anomaly

    def get_absolute_url(self) -> str:
        """Return its place on the page of the action."""
        return f"{self.action.get_absolute_url()}#effect-{self.pk}"


class TieQuerySet(RecordQuerySet["ActionTie"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> TieQuerySet:
        """All for those who may see actions, none for the others."""
        return self if allows(actor, "action.view") else self.none()

    def standing(self) -> TieQuerySet:
        """Not withdrawn."""
        return self.filter(state=TieState.STANDING)


class ActionTie(Record):
    """How an action stands to another when some are chosen: it needs the other, or excludes it."""

    class Kind(models.TextChoices):
        """How they stand to each other."""

        NEEDS = "needs", "needs"
        EXCLUDES = "excludes", "excludes"

    KIND = "action_tie"

    action = models.ForeignKey(CorrectiveAction, on_delete=models.PROTECT, related_name="ties")
    other = models.ForeignKey(CorrectiveAction, on_delete=models.PROTECT, related_name="ties_here")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    note = models.TextField(blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=12, choices=TieState.choices, default=TieState.STANDING)

    objects = TieQuerySet.as_manager()

    class Meta:
        ordering = ("action", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=TieState.values), name="action_tie_state_known"),
            models.CheckConstraint(condition=~Q(action=models.F("other")), name="action_tie_not_to_itself"),
            models.UniqueConstraint(
                fields=("action", "other"), condition=Q(state=TieState.STANDING), name="action_tie_stands_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.action_id} {self.kind} {self.other_id}"

    @property
    def anomaly(self) -> Anomaly:
        """The anomaly that the action belongs to."""
        return self.action.anomaly

    def get_absolute_url(self) -> str:
        """Return its place on the page of the action."""
        return f"{self.action.get_absolute_url()}#action_tie-{self.pk}"


class BaselineQuerySet(RecordQuerySet["Baseline"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> BaselineQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()


class Baseline(Record):
    """That verified actions became part of a tree: the revision that says so, and the top event before and after.

    `actions` are their numbers. `before` and `after` are probabilities; null where only a bracket was reached.
    """

    KIND = "baseline"

    investigation = models.ForeignKey(Investigation, on_delete=models.PROTECT, related_name="baselines")
    revision = models.ForeignKey("faulttree.TreeRevision", on_delete=models.PROTECT, related_name="baselines")
    actions = models.JSONField(default=list)
    before = models.FloatField(null=True, blank=True)
    after = models.FloatField(null=True, blank=True)
    note = models.TextField(blank=True)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    objects = BaselineQuerySet.as_manager()

    class Meta:
        ordering = ("-taken_at", "-pk")

    def __str__(self) -> str:
        return f"{', '.join(self.actions)} in revision {self.revision_id}"

    def get_absolute_url(self) -> str:
        """Return the page that shows it."""
        return reverse("anomalies:benefit", args=(self.investigation.anomaly.number,))
