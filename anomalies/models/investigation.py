"""The investigation of an anomaly by a fault tree of its own: what is known of each event, and what to look at next."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.evidence import Evidence
from anomalies.models.finding import Finding
from anomalies.states import BearingState, CauseState, InspectionState, InvestigationState
from config.kit.permissions import Actor, allows


class InvestigationQuerySet(RecordQuerySet["Investigation"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> InvestigationQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()


class Investigation(Record):
    """How the fault tree of an anomaly is worked through; its top event is what happened.

    `tree` is a copy of its own, made from the revision `origin`, so that both can go on changing; `revision` is the
    one of the copy that is in use. `mission_time` (hours) is needed where the tree uses it.
    """

    KIND = "investigation"

    anomaly = models.OneToOneField(Anomaly, on_delete=models.PROTECT, related_name="investigation")
    tree = models.ForeignKey("faulttree.Tree", on_delete=models.PROTECT, related_name="investigations")
    revision = models.ForeignKey("faulttree.TreeRevision", on_delete=models.PROTECT, related_name="investigations")
    origin = models.ForeignKey("faulttree.TreeRevision", on_delete=models.PROTECT, related_name="investigations_from")
    top = models.CharField(max_length=200)
    mission_time = models.FloatField(null=True, blank=True)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    concluded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    concluded_at = models.DateTimeField(null=True, blank=True)
    conclusion = models.TextField(blank=True)
    state = models.CharField(max_length=12, choices=InvestigationState.choices, default=InvestigationState.UNDER_WAY)

    objects = InvestigationQuerySet.as_manager()

    class Meta:
        ordering = ("-opened_at", "-pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=InvestigationState.values), name="investigation_state_known"),
            models.CheckConstraint(
                condition=Q(mission_time__isnull=True) | Q(mission_time__gte=0), name="investigation_time_not_negative"
            ),
            models.CheckConstraint(
                condition=~Q(state=InvestigationState.CONCLUDED) | (Q(concluded_by__isnull=False) & ~Q(conclusion="")),
                name="investigation_concluded_says_what",
            ),
        )

    def __str__(self) -> str:
        return f"Investigation of {self.anomaly.number}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:investigation", args=(self.anomaly.number,))


class DispositionQuerySet(RecordQuerySet["Disposition"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> DispositionQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def decided(self) -> DispositionQuerySet:
        """Those that say something: credible, ruled out or confirmed."""
        return self.exclude(state=CauseState.OPEN)


class Disposition(Record):
    """What the board holds of a basic event or gate of the tree. An event without one is open.

    Ruled out enters the tree as "did not occur", confirmed as "occurred".
    """

    KIND = "disposition"

    investigation = models.ForeignKey(Investigation, on_delete=models.PROTECT, related_name="dispositions")
    event = models.CharField(max_length=200)
    rationale = models.TextField(blank=True)
    judged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    judged_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=CauseState.choices, default=CauseState.OPEN)

    objects = DispositionQuerySet.as_manager()

    class Meta:
        ordering = ("investigation", "event")
        constraints = (
            models.UniqueConstraint(fields=("investigation", "event"), name="disposition_once_per_event"),
            models.CheckConstraint(condition=Q(state__in=CauseState.values), name="disposition_state_known"),
            models.CheckConstraint(
                condition=Q(state=CauseState.OPEN) | (~Q(rationale="") & Q(judged_at__isnull=False)),
                name="disposition_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.event} · {self.get_state_display().lower()}"

    @property
    def anomaly(self) -> Anomaly:
        """The anomaly that is investigated."""
        return self.investigation.anomaly

    def get_absolute_url(self) -> str:
        """Return its place on the page of the investigation."""
        return f"{self.investigation.get_absolute_url()}?event={self.event}#event"


class DispositionEvidence(Membership):
    """That a disposition rests on a piece of evidence. Not active: doesn't any more."""

    KIND = "disposition_evidence"

    disposition = models.ForeignKey(Disposition, on_delete=models.PROTECT, related_name="judged_on")
    evidence = models.ForeignKey(Evidence, on_delete=models.PROTECT, related_name="dispositions_judged")

    objects = RecordQuerySet["DispositionEvidence"].as_manager()

    class Meta:
        ordering = ("disposition", "pk")
        constraints = (models.UniqueConstraint(fields=("disposition", "evidence"), name="disposition_evidence_once"),)

    def __str__(self) -> str:
        return f"evidence {self.evidence_id} on disposition {self.disposition_id}"


class DispositionFinding(Membership):
    """That a disposition rests on a finding. Not active: doesn't any more."""

    KIND = "disposition_finding"

    disposition = models.ForeignKey(Disposition, on_delete=models.PROTECT, related_name="rests_on")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="dispositions_resting")

    objects = RecordQuerySet["DispositionFinding"].as_manager()

    class Meta:
        ordering = ("disposition", "pk")
        constraints = (models.UniqueConstraint(fields=("disposition", "finding"), name="disposition_finding_once"),)

    def __str__(self) -> str:
        return f"finding {self.finding_id} under disposition {self.disposition_id}"


class InspectionQuerySet(RecordQuerySet["Inspection"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> InspectionQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def possible(self) -> InspectionQuerySet:
        """Those that could still be carried out."""
        return self.filter(state=InspectionState.POSSIBLE)


class Inspection(Record):
    """A look, a test or a measurement that could tell whether an event occurred.

    sensitivity     probability that it finds the event, given that it occurred
    false_alarm     probability that it finds it, given that it did not
    cost, hours     what it takes, in the programme's own unit of cost, and working hours
    found           how it ended, once it was carried out
    """

    KIND = "inspection"

    investigation = models.ForeignKey(Investigation, on_delete=models.PROTECT, related_name="inspections")
    position = models.PositiveIntegerField()
    event = models.CharField(max_length=200)
    title = models.CharField(max_length=200)
    sensitivity = models.FloatField()
    false_alarm = models.FloatField()
    basis = models.TextField(blank=True)
    """Where sensitivity and false-alarm rate come from."""
    cost = models.FloatField(null=True, blank=True)
    hours = models.FloatField(null=True, blank=True)
    needs_outing = models.BooleanField(default=False)
    found = models.BooleanField(null=True, blank=True)
    result_note = models.TextField(blank=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=12, choices=InspectionState.choices, default=InspectionState.POSSIBLE)

    objects = InspectionQuerySet.as_manager()

    class Meta:
        ordering = ("investigation", "position")
        constraints = (
            models.UniqueConstraint(fields=("investigation", "position"), name="inspection_position_once"),
            models.CheckConstraint(condition=Q(state__in=InspectionState.values), name="inspection_state_known"),
            models.CheckConstraint(
                condition=Q(sensitivity__gte=0, sensitivity__lte=1, false_alarm__gte=0, false_alarm__lte=1),
                name="inspection_rates_are_probabilities",
            ),
            models.CheckConstraint(
                condition=~Q(state=InspectionState.CARRIED_OUT) | Q(found__isnull=False),
                name="inspection_carried_out_has_a_result",
            ),
        )

    def __str__(self) -> str:
        return f"{self.label} · {self.title}"

    @property
    def label(self) -> str:
        """What it is called within its investigation, like I2."""
        return f"I{self.position}"

    @property
    def anomaly(self) -> Anomaly:
        """The anomaly that is investigated."""
        return self.investigation.anomaly

    def get_absolute_url(self) -> str:
        """Return its place on the page of the investigation."""
        return f"{self.investigation.get_absolute_url()}#inspection-{self.pk}"


class BearingQuerySet(RecordQuerySet["Bearing"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> BearingQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def standing(self) -> BearingQuerySet:
        """Not withdrawn."""
        return self.filter(state=BearingState.STANDING)


class Bearing(Record):
    """What a piece of evidence says of one event or gate: it occurred, it did not, or how much likelier either is.

    ratio   P(evidence | the event occurred) / P(evidence | it did not); null where `says` is a plain fact. From a test
            it follows by `sensitivity`, `false_alarm` and `found`, which are kept beside it.
    """

    class Says(models.TextChoices):
        """How it enters the tree."""

        OCCURRED = "occurred", "It occurred"
        ABSENT = "absent", "It did not occur"
        TEST = "test", "The result of a test"
        RATIO = "ratio", "A likelihood ratio"

    KIND = "bearing"

    investigation = models.ForeignKey(Investigation, on_delete=models.PROTECT, related_name="bearings")
    position = models.PositiveIntegerField()
    event = models.CharField(max_length=200)
    says = models.CharField(max_length=8, choices=Says.choices)
    ratio = models.FloatField(null=True, blank=True)
    sensitivity = models.FloatField(null=True, blank=True)
    false_alarm = models.FloatField(null=True, blank=True)
    found = models.BooleanField(null=True, blank=True)
    justification = models.TextField()
    evidence = models.ForeignKey(Evidence, null=True, blank=True, on_delete=models.PROTECT, related_name="bears_on")
    finding = models.ForeignKey(Finding, null=True, blank=True, on_delete=models.PROTECT, related_name="bears_on")
    inspection = models.ForeignKey(Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="bearings")
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=BearingState.choices, default=BearingState.STANDING)

    objects = BearingQuerySet.as_manager()

    class Meta:
        ordering = ("investigation", "position")
        constraints = (
            models.UniqueConstraint(fields=("investigation", "position"), name="bearing_position_once"),
            models.CheckConstraint(condition=Q(state__in=BearingState.values), name="bearing_state_known"),
            models.CheckConstraint(
                condition=Q(ratio__isnull=True) | Q(ratio__gte=0), name="bearing_ratio_not_negative"
            ),
            models.CheckConstraint(condition=~Q(justification=""), name="bearing_says_why"),
        )

    def __str__(self) -> str:
        return f"{self.label} · {self.event}: {self.get_says_display().lower()}"

    @property
    def label(self) -> str:
        """What it is called within its investigation, like B2."""
        return f"B{self.position}"

    @property
    def anomaly(self) -> Anomaly:
        """The anomaly that is investigated."""
        return self.investigation.anomaly

    def get_absolute_url(self) -> str:
        """Return its place on the page of the investigation."""
        return f"{self.investigation.get_absolute_url()}#bearing-{self.pk}"
