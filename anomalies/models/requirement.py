"""What each kind of activity asks for before it may begin, and what was done of it for one activity."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce

from anomalies.models.activity import Activity
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.hardware import HardwareItem, HardwareType
from anomalies.states import FulfilmentState, RequirementState
from config.kit.permissions import Actor, allows


class RequirementQuerySet(RecordQuerySet["Requirement"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> RequirementQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()

    def asked_of(self, kind: str) -> RequirementQuerySet:
        """Those in use for activities of the kind."""
        return self.filter(activity_kind=kind, state=RequirementState.IN_USE)


class Requirement(Record):
    """What every activity of a kind needs: once, from each of its crew (those in `role`), or of each item of a type.

    `within_days`: it counts only if it was done at most so many days before the planned start.
    """

    class Sort(models.TextChoices):
        """What is asked for."""

        FIT_CHECK = "fit_check", "Fit check"
        TRAINING = "training", "Training"
        REHEARSAL = "rehearsal", "Rehearsal"
        CHECKOUT = "checkout", "Checkout"
        OTHER = "other", "Other"

    class Scope(models.TextChoices):
        """For whom or what it must be done."""

        ONCE = "once", "Once for the activity"
        CREW = "crew", "By each of the crew"
        ITEM = "item", "On each hardware item of the type"

    KIND = "requirement"

    activity_kind = models.CharField(max_length=12, choices=Activity.Kind.choices)
    sort = models.CharField(max_length=12, choices=Sort.choices)
    statement = models.CharField(max_length=300)
    scope = models.CharField(max_length=6, choices=Scope.choices)
    role = models.CharField(max_length=80, blank=True)
    hardware_type = models.ForeignKey(
        HardwareType, null=True, blank=True, on_delete=models.PROTECT, related_name="requirements"
    )
    within_days = models.PositiveIntegerField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=RequirementState.choices, default=RequirementState.IN_USE)

    objects = RequirementQuerySet.as_manager()

    class Meta:
        ordering = ("activity_kind", "sort", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=RequirementState.values), name="requirement_state_known"),
            models.CheckConstraint(
                condition=Q(scope="item", hardware_type__isnull=False)
                | (~Q(scope="item") & Q(hardware_type__isnull=True)),
                name="requirement_of_items_names_a_type",
            ),
        )

    def __str__(self) -> str:
        return self.statement

    def get_absolute_url(self) -> str:
        """Its place on the list."""
        return f"/readiness/requirements/#requirement-{self.pk}"


class FulfilmentQuerySet(RecordQuerySet["Fulfilment"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> FulfilmentQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()

    def standing(self) -> FulfilmentQuerySet:
        """Not withdrawn."""
        return self.filter(state=FulfilmentState.STANDING)


class Fulfilment(Record):
    """That a requirement was met for an activity: by the person or on the item, if it asks for one of each."""

    KIND = "fulfilment"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="fulfilments")
    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="fulfilments")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="fulfilments"
    )
    item = models.ForeignKey(HardwareItem, null=True, blank=True, on_delete=models.PROTECT, related_name="fulfilments")
    done_at = models.DateTimeField()
    note = models.TextField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=FulfilmentState.choices, default=FulfilmentState.STANDING)

    objects = FulfilmentQuerySet.as_manager()

    class Meta:
        ordering = ("activity", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=FulfilmentState.values), name="fulfilment_state_known"),
            models.CheckConstraint(condition=~Q(note=""), name="fulfilment_says_how"),
            models.UniqueConstraint(
                "activity",
                "requirement",
                Coalesce("person", 0),
                Coalesce("item", 0),
                condition=Q(state=FulfilmentState.STANDING),
                name="fulfilment_stands_once",
            ),
        )

    def __str__(self) -> str:
        return f"{self.requirement} · {self.note}"

    def get_absolute_url(self) -> str:
        """Its place on the page of readiness."""
        return f"/readiness/{self.activity_id}/#fulfilment-{self.pk}"


class StandardPositionQuerySet(RecordQuerySet["StandardPosition"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> StandardPositionQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()


class StandardPosition(Membership):
    """That the poll of every activity of a kind asks this position. Not active: is asked no more."""

    KIND = "standard_position"

    activity_kind = models.CharField(max_length=12, choices=Activity.Kind.choices)
    name = models.CharField(max_length=80)

    objects = StandardPositionQuerySet.as_manager()

    class Meta:
        ordering = ("activity_kind", "pk")
        constraints = (models.UniqueConstraint(fields=("activity_kind", "name"), name="standard_position_once"),)

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Its place on the list."""
        return f"/readiness/requirements/#standard_position-{self.pk}"
