"""The board of an anomaly, and what it found: each finding on evidence, with who concurs and who dissents."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.evidence import Evidence
from anomalies.states import FindingState
from config.kit.permissions import Actor, allows


class BoardSeat(Membership):
    """Somebody's place on the board of an anomaly. Not active: left it again."""

    KIND = "board_seat"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="board")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="board_seats")

    objects = RecordQuerySet["BoardSeat"].as_manager()

    class Meta:
        ordering = ("anomaly", "pk")
        constraints = (models.UniqueConstraint(fields=("anomaly", "person"), name="board_seat_once"),)

    def __str__(self) -> str:
        return f"person {self.person_id} on the board of anomaly {self.anomaly_id}"


class FindingQuerySet(RecordQuerySet["Finding"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> FindingQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def standing(self) -> FindingQuerySet:
        """Not withdrawn."""
        return self.exclude(state=FindingState.WITHDRAWN)

    def before_the_board(self) -> FindingQuerySet:
        """Proposed, and not adopted yet."""
        return self.filter(state=FindingState.PROPOSED)


class Finding(Record):
    """What the board found, like F2: a statement that rests on evidence.

    `wording` counts the wordings: a position was taken on one of them, and says nothing about a later one.
    """

    class Kind(models.TextChoices):
        """A finding bears on the cause or on the risk; an observation is worth keeping besides."""

        FINDING = "finding", "Finding"
        OBSERVATION = "observation", "Observation"

    KIND = "finding"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="findings")
    position = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    statement = models.TextField()
    wording = models.PositiveIntegerField(default=1)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="findings_written")
    proposed_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=FindingState.choices, default=FindingState.PROPOSED)
    state_reason = models.TextField(blank=True)

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ("anomaly", "position")
        constraints = (
            models.UniqueConstraint(fields=("anomaly", "position"), name="finding_position_once"),
            models.CheckConstraint(condition=Q(state__in=FindingState.values), name="finding_state_known"),
            models.CheckConstraint(
                condition=~Q(state=FindingState.WITHDRAWN) | ~Q(state_reason=""), name="finding_withdrawn_says_why"
            ),
        )

    def __str__(self) -> str:
        return f"{self.label} · {self.statement[:60]}"

    @property
    def label(self) -> str:
        """What it is called within its anomaly, like F2."""
        return f"F{self.position}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:finding", args=(self.anomaly.number, self.position))


class FindingEvidence(Membership):
    """That a finding rests on a piece of evidence. Not active: doesn't any more."""

    KIND = "finding_evidence"

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="rests_on")
    evidence = models.ForeignKey(Evidence, on_delete=models.PROTECT, related_name="findings_resting")

    objects = RecordQuerySet["FindingEvidence"].as_manager()

    class Meta:
        ordering = ("finding", "pk")
        constraints = (models.UniqueConstraint(fields=("finding", "evidence"), name="finding_evidence_once"),)

    def __str__(self) -> str:
        return f"evidence {self.evidence_id} under finding {self.finding_id}"


class Concurrence(Record):
    """Where a member of the board stands on a finding, and on which wording of it; a dissent gives its grounds."""

    class Stand(models.TextChoices):
        """What the member says."""

        CONCURS = "concurs", "Concurs"
        DISSENTS = "dissents", "Dissents"

    KIND = "concurrence"

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="concurrences")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    stand = models.CharField(max_length=12, choices=Stand.choices)
    text = models.TextField(blank=True)
    wording = models.PositiveIntegerField()
    stated_at = models.DateTimeField()

    objects = RecordQuerySet["Concurrence"].as_manager()

    class Meta:
        ordering = ("finding", "pk")
        constraints = (
            models.UniqueConstraint(fields=("finding", "member"), name="concurrence_once_per_member"),
            models.CheckConstraint(condition=~Q(stand="dissents") | ~Q(text=""), name="dissent_gives_grounds"),
        )

    def __str__(self) -> str:
        return f"person {self.member_id} {self.stand}"

    @property
    def is_on_earlier_wording(self) -> bool:
        """It was taken before the finding was put otherwise."""
        return self.wording != self.finding.wording
