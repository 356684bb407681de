"""What happened in flight, counted: failure modes, occurrences, exposure, and the parameters they update."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.activity import Activity
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.hardware import HardwareType
from anomalies.states import ExposureState, UpdateState
from config.kit.permissions import Actor, allows


class Measure(models.TextChoices):
    """What exposure is counted in."""

    HOURS = "hours", "Hours"
    CYCLES = "cycles", "Cycles"
    DEMANDS = "demands", "Demands"
    OUTINGS = "outings", "Outings"


class FailureModeQuerySet(RecordQuerySet["FailureMode"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> FailureModeQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()


class FailureMode(Record):
    """A way in which a type of hardware fails, and the shared event or parameter of the trees that it informs."""

    KIND = "failure_mode"

    hardware_type = models.ForeignKey(HardwareType, on_delete=models.PROTECT, related_name="failure_modes")
    code = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=200)
    measure = models.CharField(max_length=10, choices=Measure.choices)
    item = models.ForeignKey(
        "faulttree.SharedItem", null=True, blank=True, on_delete=models.PROTECT, related_name="failure_modes"
    )

    objects = FailureModeQuerySet.as_manager()

    class Meta:
        ordering = ("code",)
        constraints = (models.CheckConstraint(condition=Q(measure__in=Measure.values), name="failure_mode_measure"),)

    def __str__(self) -> str:
        return f"{self.code} · {self.name}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:failure_mode", args=(self.pk,))


class Occurrence(Membership):
    """That an anomaly is an occurrence of a failure mode, so many times. Not active: isn't any more."""

    KIND = "occurrence"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="occurrences")
    failure_mode = models.ForeignKey(FailureMode, on_delete=models.PROTECT, related_name="occurrences")
    count = models.PositiveIntegerField(default=1)
    note = models.TextField(blank=True)

    objects = RecordQuerySet["Occurrence"].as_manager()

    class Meta:
        ordering = ("anomaly", "pk")
        constraints = (
            models.UniqueConstraint(fields=("anomaly", "failure_mode"), name="occurrence_once"),
            models.CheckConstraint(condition=Q(count__gte=1), name="occurrence_counts"),
        )

    def __str__(self) -> str:
        return f"{self.count} x mode {self.failure_mode_id} in anomaly {self.anomaly_id}"


class ExposureQuerySet(RecordQuerySet["ExposureEntry"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ExposureQuerySet:
        """All for those who may see hardware, none for the others."""
        return self if allows(actor, "hardware.view") else self.none()

    def standing(self) -> ExposureQuerySet:
        """Not withdrawn."""
        return self.filter(state=ExposureState.STANDING)


class ExposureEntry(Record):
    """How much a type of hardware was used over a time, all its items together.

    One that names an activity stands in place of what would be counted from that activity.
    """

    KIND = "exposure"

    hardware_type = models.ForeignKey(HardwareType, on_delete=models.PROTECT, related_name="exposure")
    measure = models.CharField(max_length=10, choices=Measure.choices)
    amount = models.FloatField()
    start = models.DateTimeField()
    end = models.DateTimeField()
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="exposure")
    source = models.CharField(max_length=300)
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=ExposureState.choices, default=ExposureState.STANDING)

    objects = ExposureQuerySet.as_manager()

    class Meta:
        ordering = ("-end", "-pk")
        permissions = (("log_exposure", "Can enter how much hardware was used"),)
        verbose_name_plural = "exposure entries"
        constraints = (
            models.CheckConstraint(condition=Q(measure__in=Measure.values), name="exposure_measure"),
            models.CheckConstraint(condition=Q(state__in=ExposureState.values), name="exposure_state_known"),
            models.CheckConstraint(condition=Q(amount__gte=0), name="exposure_not_negative"),
            models.CheckConstraint(condition=Q(end__gte=models.F("start")), name="exposure_in_order"),
            models.CheckConstraint(condition=~Q(source=""), name="exposure_names_its_source"),
        )

    def __str__(self) -> str:
        return f"{self.amount:g} {self.measure}"

    def get_absolute_url(self) -> str:
        """Return the page of its type."""
        return self.hardware_type.get_absolute_url()


class UpdateQuerySet(RecordQuerySet["ParameterUpdate"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> UpdateQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def waiting(self) -> UpdateQuerySet:
        """Neither accepted nor refused."""
        return self.filter(state=UpdateState.PROPOSED)


class ParameterUpdate(Record):
    """A proposal to give a shared event or parameter the value that prior and experience together give.

    prior, data, posterior  what went in and what came out, as the engine writes them
    expression              the new value, in our JSON form
    seen                    number of the data set whose value was the prior
    data_set                the data set that an accepted one made
    """

    KIND = "parameter_update"

    item = models.ForeignKey("faulttree.SharedItem", on_delete=models.PROTECT, related_name="updates")
    failure_mode = models.ForeignKey(
        FailureMode, null=True, blank=True, on_delete=models.PROTECT, related_name="updates"
    )
    seen = models.PositiveIntegerField()
    prior = models.JSONField()
    prior_source = models.TextField()
    data = models.JSONField()
    posterior = models.JSONField()
    expression = models.JSONField()
    note = models.TextField(blank=True)
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    decision_note = models.TextField(blank=True)
    data_set = models.ForeignKey(
        "faulttree.DataSet", null=True, blank=True, on_delete=models.PROTECT, related_name="updates"
    )
    state = models.CharField(max_length=12, choices=UpdateState.choices, default=UpdateState.PROPOSED)

    objects = UpdateQuerySet.as_manager()

    class Meta:
        ordering = ("-proposed_at", "-pk")
        permissions = (("quantify_risk", "Can decide on the numbers that fault trees use"),)
        constraints = (
            models.CheckConstraint(condition=Q(state__in=UpdateState.values), name="update_state_known"),
            models.CheckConstraint(
                condition=Q(state=UpdateState.PROPOSED) | (~Q(decision_note="") & Q(decided_at__isnull=False)),
                name="update_decided_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(state=UpdateState.ACCEPTED) | Q(data_set__isnull=False), name="update_accepted_is_in_a_set"
            ),
        )

    def __str__(self) -> str:
        return f"Update of item {self.item_id}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:update", args=(self.pk,))
