"""Evidence: files, statements, telemetry and links, with who added and who opened them; and the timeline."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.file_types import PICTURES
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Record, RecordQuerySet
from anomalies.states import EvidenceState, TimelineState
from config.kit.permissions import Actor, allows


class EvidenceQuerySet(RecordQuerySet["Evidence"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> EvidenceQuerySet:
        """All for those who may see anomalies, none for the others; drafts have no evidence."""
        return self if allows(actor, "anomaly.view") else self.none()

    def held(self) -> EvidenceQuerySet:
        """Not withdrawn."""
        return self.filter(state=EvidenceState.HELD)


class Evidence(Record):
    """One piece of evidence about an anomaly, like E3; what it holds is never changed, and it is never deleted.

    A file is kept under its SHA-256 (services/evidence_files.py); the row only says which. Telemetry is a file too, of
    samples of one quantity in one `unit`; `low` and `high` are its limits.
    """

    class Kind(models.TextChoices):
        """What it is."""

        PHOTOGRAPH = "photograph", "Photograph"
        DOCUMENT = "document", "Document"
        STATEMENT = "statement", "Statement"
        TELEMETRY = "telemetry", "Telemetry"
        LINK = "link", "Link"

    KIND = "evidence"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="evidence")
    position = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    title = models.CharField(max_length=200)
    description = models.TextField(blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    statement = models.TextField(blank=True)
    stated_by = models.CharField(max_length=200, blank=True)
    address = models.URLField(max_length=1000, blank=True)

    file_name = models.CharField(max_length=255, blank=True)
    media_type = models.CharField(max_length=60, blank=True)
    size = models.PositiveBigIntegerField(null=True, blank=True)
    sha256 = models.CharField(max_length=64, blank=True)

    unit = models.CharField(max_length=40, blank=True)
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)

    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="evidence_added")
    added_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=EvidenceState.choices, default=EvidenceState.HELD)
    state_reason = models.TextField(blank=True)

    objects = EvidenceQuerySet.as_manager()

    class Meta:
        ordering = ("anomaly", "position")
        verbose_name_plural = "evidence"
        constraints = (
            models.UniqueConstraint(fields=("anomaly", "position"), name="evidence_position_once"),
            models.CheckConstraint(condition=Q(state__in=EvidenceState.values), name="evidence_state_known"),
            models.CheckConstraint(
                condition=~Q(state=EvidenceState.WITHDRAWN) | ~Q(state_reason=""), name="evidence_withdrawn_says_why"
            ),
            models.CheckConstraint(
                condition=Q(sha256="", size__isnull=True) | (~Q(sha256="") & Q(size__isnull=False)),
                name="evidence_file_whole_or_absent",
            ),
        )

    def __str__(self) -> str:
        return f"{self.label} · {self.title}"

    def get_absolute_url(self) -> str:
        """Its page below the dossier."""
        return reverse("anomalies:evidence", args=(self.anomaly.number, self.position))

    @property
    def label(self) -> str:
        """What it is called within its anomaly, like E3."""
        return f"E{self.position}"

    @property
    def is_picture(self) -> bool:
        """By its content its file is a picture that a page may show."""
        return self.media_type in PICTURES


class TelemetrySeries(models.Model):
    """What was computed from a telemetry file, so that a page needn't read half a million lines: no record.

    It can be made again from the file at any time. `points` are [ISO 8601 moment, value], thinned so that every extreme
    is kept; `spans` are the first of the `spans_in_all` spans out of limits (telemetry.Span).
    """

    evidence = models.OneToOneField(Evidence, on_delete=models.CASCADE, related_name="series")
    samples = models.PositiveIntegerField()
    start = models.DateTimeField()
    end = models.DateTimeField()
    least = models.FloatField()
    greatest = models.FloatField()
    points = models.JSONField(default=list)
    spans = models.JSONField(default=list)
    spans_in_all = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "telemetry series"

    def __str__(self) -> str:
        return f"{self.samples:,} samples of evidence {self.evidence_id}"


class EvidenceOpening(Record):
    """That somebody opened a file: a link of its chain of custody."""

    KIND = "evidence_opening"

    evidence = models.ForeignKey(Evidence, on_delete=models.PROTECT, related_name="openings")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()

    objects = RecordQuerySet["EvidenceOpening"].as_manager()

    class Meta:
        ordering = ("evidence", "pk")

    def __str__(self) -> str:
        return f"evidence {self.evidence_id} opened by person {self.person_id}"


class TimelineQuerySet(RecordQuerySet["TimelineEntry"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> TimelineQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def standing(self) -> TimelineQuerySet:
        """Not withdrawn, in the order of time."""
        return self.filter(state=TimelineState.STANDING).order_by("at", "pk")


class TimelineEntry(Record):
    """What happened at a moment, and on which evidence that rests, if on any."""

    KIND = "timeline_entry"

    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="timeline")
    at = models.DateTimeField()
    text = models.TextField()
    evidence = models.ForeignKey(
        Evidence, null=True, blank=True, on_delete=models.PROTECT, related_name="timeline_entries"
    )
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=12, choices=TimelineState.choices, default=TimelineState.STANDING)
    state_reason = models.TextField(blank=True)

    objects = TimelineQuerySet.as_manager()

    class Meta:
        ordering = ("anomaly", "at", "pk")
        verbose_name_plural = "timeline entries"
        constraints = (
            models.CheckConstraint(condition=Q(state__in=TimelineState.values), name="timeline_state_known"),
            models.CheckConstraint(
                condition=~Q(state=TimelineState.WITHDRAWN) | ~Q(state_reason=""), name="timeline_withdrawn_says_why"
            ),
        )

    def get_absolute_url(self) -> str:
        """Its place on the dossier."""
        return f"{self.anomaly.get_absolute_url()}#entry-{self.pk}"

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M:%S} UTC · {self.text[:60]}"
