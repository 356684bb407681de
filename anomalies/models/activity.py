"""An activity: what is done, by whom, with what, from when to when."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.hardware import HardwareItem
from anomalies.states import ActivityState
from config.kit.permissions import Actor, allows


class ActivityQuerySet(RecordQuerySet["Activity"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ActivityQuerySet:
        """All activities for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()

    def coming(self) -> ActivityQuerySet:
        """Planned, the next one first."""
        return self.filter(state=ActivityState.PLANNED).order_by("planned_start", "pk")


class Activity(Record):
    """An outing in suits, a docking, a propellant transfer or the like. `tasks` is a list of lines, in order."""

    class Kind(models.TextChoices):
        """What is done."""

        SORTIE = "sortie", "Sortie"
        DOCKING = "docking", "Docking"
        TRANSFER = "transfer", "Propellant transfer"
        TEST = "test", "Test or checkout"
        OTHER = "other", "Other"

    KIND = "activity"

    kind = models.CharField(max_length=12, choices=Kind.choices)
    title = models.CharField(max_length=200)
    tasks = models.JSONField(default=list, blank=True)
    planned_start = models.DateTimeField()
    planned_end = models.DateTimeField()
    actual_start = models.DateTimeField(null=True, blank=True)
    actual_end = models.DateTimeField(null=True, blank=True)
    lead = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="activities_led")
    state = models.CharField(max_length=12, choices=ActivityState.choices, default=ActivityState.PLANNED)
    state_reason = models.TextField(blank=True)

    objects = ActivityQuerySet.as_manager()

    class Meta:
        ordering = ("-planned_start", "-pk")
        verbose_name_plural = "activities"
        constraints = (
            models.CheckConstraint(condition=Q(state__in=ActivityState.values), name="activity_state_known"),
            models.CheckConstraint(
                condition=Q(planned_end__gt=models.F("planned_start")), name="activity_planned_in_order"
            ),
            models.CheckConstraint(
                condition=Q(actual_end__isnull=True) | Q(actual_end__gte=models.F("actual_start")),
                name="activity_actual_in_order",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(ActivityState.ENDED_EARLY, ActivityState.SCRUBBED)) | ~Q(state_reason=""),
                name="activity_cut_short_has_a_reason",
            ),
        )

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:activity", args=(self.pk,))


class CrewAssignment(Membership):
    """Somebody's role in an activity. Not active: was taken off it again."""

    KIND = "crew_assignment"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="crew")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="crew_assignments")
    role = models.CharField(max_length=80)

    objects = RecordQuerySet["CrewAssignment"].as_manager()

    class Meta:
        ordering = ("activity", "pk")
        constraints = (models.UniqueConstraint(fields=("activity", "person", "role"), name="crew_role_once"),)

    def __str__(self) -> str:
        return self.role


class ActivityHardware(Membership):
    """That an activity uses a hardware item. Not active: was taken off its list again."""

    KIND = "activity_hardware"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="hardware_uses")
    item = models.ForeignKey(HardwareItem, on_delete=models.PROTECT, related_name="activity_uses")

    objects = RecordQuerySet["ActivityHardware"].as_manager()

    class Meta:
        ordering = ("activity", "pk")
        constraints = (models.UniqueConstraint(fields=("activity", "item"), name="activity_hardware_once"),)

    def __str__(self) -> str:
        return f"item {self.item_id} in activity {self.activity_id}"
