"""An anomaly: what was seen, when, where, on what; how grave it is; who leads the work on it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.functional import cached_property

from anomalies.mission_clock import write_mission_time
from anomalies.models.activity import Activity
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.hardware import HardwareItem
from anomalies.risk import Probability, Risk, Severity, cells_at, find_risk, write_code
from anomalies.states import AnomalyState
from config.kit.permissions import Actor, allows

UNNUMBERED = (AnomalyState.DRAFT, AnomalyState.DISCARDED)


class AnomalyQuerySet(RecordQuerySet["Anomaly"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> AnomalyQuerySet:
        """All that are reported, and the actor's own drafts; none for those who may see no anomalies."""
        if not allows(actor, "anomaly.view"):
            return self.none()
        return self.filter(~Q(state__in=UNNUMBERED) | Q(recorded_by=getattr(actor, "pk", None)))

    def drafts_of(self, actor: Actor) -> AnomalyQuerySet:
        """What this person began and hasn't reported yet, the newest first."""
        own = self.filter(state=AnomalyState.DRAFT, recorded_by=getattr(actor, "pk", None))
        return own.order_by("-recorded_at", "-pk")

    def awaiting_screening(self) -> AnomalyQuerySet:
        """Reported, the oldest first."""
        return self.filter(state=AnomalyState.REPORTED).order_by("reported_at", "pk")

    def open(self) -> AnomalyQuerySet:
        """Screened and worked on."""
        return self.filter(state=AnomalyState.OPEN)

    def closed(self) -> AnomalyQuerySet:
        """Dealt with."""
        return self.filter(state=AnomalyState.CLOSED)

    def at_risk(self, risk: str) -> AnomalyQuerySet:
        """Assessed at this risk level."""
        found = Q(pk__in=())
        for severity, probability in cells_at(risk):
            found |= Q(severity=severity, probability=probability)
        return self.filter(found)


class Anomaly(Record):
    """One anomaly, from its first report on. It has a number once it is reported, and keeps it."""

    KIND = "anomaly"

    number = models.CharField(max_length=20, null=True, unique=True)
    title = models.CharField(max_length=200)
    description = models.TextField(blank=True)
    occurred_at = models.DateTimeField()
    place = models.CharField(max_length=200, blank=True)
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="anomalies")
    activity_cut_short = models.BooleanField(default=False)
    immediate_response = models.TextField(blank=True)

    severity = models.PositiveSmallIntegerField(choices=Severity.choices, null=True, blank=True)
    probability = models.CharField(max_length=1, choices=Probability.choices, blank=True)
    risk_rationale = models.TextField(blank=True)
    lead = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="anomalies_led"
    )

    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="anomalies_recorded"
    )
    recorded_at = models.DateTimeField()
    reported_at = models.DateTimeField(null=True, blank=True)
    screened_at = models.DateTimeField(null=True, blank=True)
    unexplained_rationale = models.TextField(blank=True)
    unexplained_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    unexplained_at = models.DateTimeField(null=True, blank=True)
    closing_statement = models.TextField(blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="anomalies_closed"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=AnomalyState.choices, default=AnomalyState.DRAFT)

    objects = AnomalyQuerySet.as_manager()

    class Meta:
        ordering = ("-occurred_at", "-pk")
        verbose_name_plural = "anomalies"
        permissions = (
            ("screen_anomaly", "Can screen an anomaly"),
            ("constrain_anomaly", "Can constrain activities and hardware by an anomaly"),
            ("close_anomaly", "Can close an anomaly"),
            ("accept_risk", "Can accept the risk of an anomaly that stays unexplained"),
        )
        indexes = (
            models.Index(fields=("-occurred_at", "-id"), name="anomaly_newest"),
            models.Index(fields=("state", "reported_at"), name="anomaly_state_reported"),
        )
        constraints = (
            models.CheckConstraint(condition=Q(state__in=AnomalyState.values), name="anomaly_state_known"),
            models.CheckConstraint(
                condition=Q(state__in=UNNUMBERED, number__isnull=True)
                | (~Q(state__in=UNNUMBERED) & Q(number__isnull=False)),
                name="anomaly_number_from_report_on",
            ),
            models.CheckConstraint(
                condition=Q(severity__isnull=True, probability="")
                | Q(severity__in=Severity.values, probability__in=Probability.values),
                name="anomaly_risk_whole_or_absent",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(AnomalyState.OPEN, AnomalyState.CLOSED))
                | Q(severity__isnull=False, lead__isnull=False),
                name="anomaly_open_is_screened",
            ),
            models.CheckConstraint(
                condition=Q(unexplained_rationale="", unexplained_by__isnull=True, unexplained_at__isnull=True)
                | (Q(unexplained_by__isnull=False, unexplained_at__isnull=False) & ~Q(unexplained_rationale="")),
                name="anomaly_unexplained_whole_or_absent",
            ),
            models.CheckConstraint(
                condition=~Q(state=AnomalyState.CLOSED) | (Q(closed_at__isnull=False) & ~Q(closing_statement="")),
                name="anomaly_closed_says_how",
            ),
        )

    def __str__(self) -> str:
        return f"{self.number or 'draft'} · {self.title}"

    def get_absolute_url(self) -> str:
        """The dossier; the draft's page until there is a number."""
        if self.number:
            return reverse("anomalies:dossier", args=(self.number,))
        return reverse("anomalies:draft", args=(self.pk,))

    @property
    def mission_time(self) -> str:
        """The mission clock when it occurred; empty if this installation has no mission clock."""
        return write_mission_time(self.occurred_at, settings.MISSION_EPOCH) if settings.MISSION_EPOCH else ""

    @cached_property
    def seated(self) -> frozenset[int]:
        """Keys of the people who sit on its board; asked once per object."""
        return frozenset(self.board.filter(active=True).values_list("person_id", flat=True))

    @property
    def risk_code(self) -> str:
        """The risk assessment code, as in 2C; empty before screening."""
        return write_code(self.severity, self.probability) if self.severity else ""

    @property
    def risk(self) -> Risk | None:
        """The risk level by the matrix of MIL-STD-882E; None before screening."""
        return find_risk(self.severity, self.probability) if self.severity else None


class AnomalyHardware(Membership):
    """That a hardware item is concerned. Not active: was taken off the list again."""

    KIND = "anomaly_hardware"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="hardware_concerned")
    item = models.ForeignKey(HardwareItem, on_delete=models.PROTECT, related_name="anomaly_concerns")

    objects = RecordQuerySet["AnomalyHardware"].as_manager()

    class Meta:
        ordering = ("anomaly", "pk")
        constraints = (models.UniqueConstraint(fields=("anomaly", "item"), name="anomaly_hardware_once"),)

    def __str__(self) -> str:
        return f"item {self.item_id} in anomaly {self.anomaly_id}"
