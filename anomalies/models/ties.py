"""What ties an anomaly to others: the constraints it puts on work, and its links to other anomalies."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from anomalies.models.activity import Activity, ActivityHardware
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Record, RecordQuerySet
from anomalies.models.hardware import HardwareType
from anomalies.states import ConstraintState, LinkState
from config.kit.permissions import Actor, allows


class ConstraintQuerySet(RecordQuerySet["Constraint"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ConstraintQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def in_force(self) -> ConstraintQuerySet:
        """Not resolved."""
        return self.filter(state=ConstraintState.IN_FORCE)

    def on_activity(self, activity: Activity) -> ConstraintQuerySet:
        """Those that name the activity, and those that name a type of hardware it uses."""
        used = ActivityHardware.objects.filter(activity=activity, active=True)
        return self.filter(Q(activity=activity) | Q(hardware_type__in=used.values("item__type")))


class Constraint(Record):
    """What must not be done, or only so, until the anomaly is dealt with: in one activity, or with one type."""

    KIND = "constraint"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="constraints")
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="constraints")
    hardware_type = models.ForeignKey(
        HardwareType, null=True, blank=True, on_delete=models.PROTECT, related_name="constraints"
    )
    statement = models.TextField()
    resolution = models.TextField(blank=True)
    state = models.CharField(max_length=12, choices=ConstraintState.choices, default=ConstraintState.IN_FORCE)

    objects = ConstraintQuerySet.as_manager()

    class Meta:
        ordering = ("anomaly", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=ConstraintState.values), name="constraint_state_known"),
            models.CheckConstraint(
                condition=Q(activity__isnull=True) ^ Q(hardware_type__isnull=True), name="constraint_names_one_thing"
            ),
            models.CheckConstraint(
                condition=~Q(state=ConstraintState.RESOLVED) | ~Q(resolution=""), name="constraint_resolved_says_how"
            ),
        )

    def __str__(self) -> str:
        return self.statement

    def get_absolute_url(self) -> str:
        """Its place on the dossier."""
        return f"{self.anomaly.get_absolute_url()}#constraint-{self.pk}"


class LinkQuerySet(RecordQuerySet["AnomalyLink"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> LinkQuerySet:
        """All for those who may see anomalies, none for the others; drafts can't be linked."""
        return self if allows(actor, "anomaly.view") else self.none()

    def standing(self) -> LinkQuerySet:
        """Not withdrawn."""
        return self.filter(state=LinkState.STANDING)

    def touching(self, anomaly: Anomaly) -> LinkQuerySet:
        """From or to the anomaly."""
        return self.filter(Q(source=anomaly) | Q(target=anomaly))


class AnomalyLink(Record):
    """That `source` is related to, a duplicate of, or a recurrence of `target`."""

    class Kind(models.TextChoices):
        """How the source stands to the target."""

        RELATED = "related", "related to"
        DUPLICATE = "duplicate", "duplicate of"
        RECURRENCE = "recurrence", "recurrence of"

    KIND = "link"

    source = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="links")
    target = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="links_here")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    note = models.TextField(blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=12, choices=LinkState.choices, default=LinkState.STANDING)

    objects = LinkQuerySet.as_manager()

    class Meta:
        ordering = ("source", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=LinkState.values), name="link_state_known"),
            models.CheckConstraint(condition=~Q(source=models.F("target")), name="link_not_to_itself"),
            models.UniqueConstraint(
                fields=("source", "target", "kind"), condition=Q(state=LinkState.STANDING), name="link_stands_once"
            ),
            models.UniqueConstraint(
                fields=("source",), condition=Q(state=LinkState.STANDING, kind="duplicate"), name="link_one_original"
            ),
        )

    def __str__(self) -> str:
        return f"{self.source_id} {self.get_kind_display()} {self.target_id}"

    def get_absolute_url(self) -> str:
        """Its place on the dossier of its source."""
        return f"{self.source.get_absolute_url()}#link-{self.pk}"
