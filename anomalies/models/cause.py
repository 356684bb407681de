"""Causes of an anomaly: what they rest on, how they hang together, and whether they are ruled out or confirmed."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.evidence import Evidence
from anomalies.models.finding import Finding
from anomalies.states import CauseState
from config.kit.permissions import Actor, allows


class CauseQuerySet(RecordQuerySet["Cause"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> CauseQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def undecided(self) -> CauseQuerySet:
        """Nobody has judged them yet."""
        return self.filter(state=CauseState.OPEN)

    def confirmed(self) -> CauseQuerySet:
        """Confirmed."""
        return self.filter(state=CauseState.CONFIRMED)

    def explaining(self) -> CauseQuerySet:
        """Confirmed root and proximate causes: what lies between, or only contributes, explains nothing by itself."""
        return self.confirmed().filter(kind__in=(Cause.Kind.ROOT, Cause.Kind.PROXIMATE))


class Cause(Record):
    """A possible or established cause, like C1. `parent` is what it led to: reading upwards asks what came of it,
    reading downwards asks why.

    `state` is its disposition; `rationale` says why. `event_code` names the basic event of a fault tree it stands for;
    with `tree_id` it points at the event in every revision of that tree.
    """

    class Kind(models.TextChoices):
        """How far back it lies."""

        PROXIMATE = "proximate", "Proximate cause"
        INTERMEDIATE = "intermediate", "Intermediate cause"
        ROOT = "root", "Root cause"
        CONTRIBUTING = "contributing", "Contributing factor"

    KIND = "cause"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="causes")
    position = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    statement = models.TextField()
    parent = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reasons")
    tree = models.ForeignKey(
        "faulttree.Tree", null=True, blank=True, on_delete=models.PROTECT, related_name="causes_named"
    )
    event_code = models.CharField(max_length=200, blank=True)
    rationale = models.TextField(blank=True)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="causes_written")
    judged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="causes_judged"
    )
    judged_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=CauseState.choices, default=CauseState.OPEN)

    objects = CauseQuerySet.as_manager()

    class Meta:
        ordering = ("anomaly", "position")
        constraints = (
            models.UniqueConstraint(fields=("anomaly", "position"), name="cause_position_once"),
            models.CheckConstraint(condition=Q(state__in=CauseState.values), name="cause_state_known"),
            models.CheckConstraint(condition=Q(state=CauseState.OPEN) | ~Q(rationale=""), name="cause_judged_says_why"),
            models.CheckConstraint(condition=~Q(parent=models.F("id")), name="cause_not_of_itself"),
        )

    def __str__(self) -> str:
        return f"{self.label} · {self.statement[:60]}"

    @property
    def label(self) -> str:
        """What it is called within its anomaly, like C1."""
        return f"C{self.position}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:cause", args=(self.anomaly.number, self.position))


class CauseFinding(Membership):
    """That a cause rests on a finding. Not active: doesn't any more."""

    KIND = "cause_finding"

    cause = models.ForeignKey(Cause, on_delete=models.PROTECT, related_name="rests_on")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="causes_resting")

    objects = RecordQuerySet["CauseFinding"].as_manager()

    class Meta:
        ordering = ("cause", "pk")
        constraints = (models.UniqueConstraint(fields=("cause", "finding"), name="cause_finding_once"),)

    def __str__(self) -> str:
        return f"finding {self.finding_id} under cause {self.cause_id}"


class CauseEvidence(Membership):
    """That the disposition of a cause rests on a piece of evidence. Not active: doesn't any more."""

    KIND = "cause_evidence"

    cause = models.ForeignKey(Cause, on_delete=models.PROTECT, related_name="judged_on")
    evidence = models.ForeignKey(Evidence, on_delete=models.PROTECT, related_name="causes_judged")

    objects = RecordQuerySet["CauseEvidence"].as_manager()

    class Meta:
        ordering = ("cause", "pk")
        constraints = (models.UniqueConstraint(fields=("cause", "evidence"), name="cause_evidence_once"),)

    def __str__(self) -> str:
        return f"evidence {self.evidence_id} on cause {self.cause_id}"
