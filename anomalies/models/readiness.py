"""The readiness review of an activity: its poll, the waivers that carry it, and what was signed at its end."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.urls import reverse

from anomalies.models.activity import Activity
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.risk import Probability, Severity, write_code
from anomalies.states import ReviewState, WaiverState
from config.kit.permissions import Actor, allows


class Verdict(models.TextChoices):
    """How a review ends."""

    GO = "go", "Go"
    NO_GO = "no_go", "No-go"


class ReviewQuerySet(RecordQuerySet["ReadinessReview"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ReviewQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()


class ReadinessReview(Record):
    """Whether an activity may begin. It may take more than one round; each that ends leaves a snapshot.

    noted           what the list said when it was last noted: key of item -> [standing, mark of what shows it]
    stale_since     since when the list isn't any more what the last round signed; `stale_because` says what changed
    """

    KIND = "readiness_review"

    activity = models.OneToOneField(Activity, on_delete=models.PROTECT, related_name="review")
    round = models.PositiveIntegerField(default=1)
    noted = models.JSONField(default=dict, blank=True)
    verdict = models.CharField(max_length=8, choices=Verdict.choices, blank=True)
    stale_since = models.DateTimeField(null=True, blank=True)
    stale_because = models.TextField(blank=True)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=ReviewState.choices, default=ReviewState.UNDER_WAY)
    state_reason = models.TextField(blank=True)

    objects = ReviewQuerySet.as_manager()

    class Meta:
        ordering = ("-opened_at", "-pk")
        permissions = (("sign_readinessreview", "Can sign the verdict of a readiness review"),)
        constraints = (
            models.CheckConstraint(condition=Q(state__in=ReviewState.values), name="review_state_known"),
            models.CheckConstraint(
                condition=Q(state=ReviewState.UNDER_WAY, verdict="") | Q(state=ReviewState.SIGNED, verdict__in=Verdict),
                name="review_signed_has_a_verdict",
            ),
            models.CheckConstraint(
                condition=Q(stale_since__isnull=True) | Q(state=ReviewState.SIGNED), name="review_stale_was_signed"
            ),
        )

    def __str__(self) -> str:
        return f"Readiness of {self.activity}"

    def content(self) -> dict[str, Any]:
        """Return all fields, each noted item as one of its own, so that the ledger holds what changed and not all."""
        content = super().content()
        items = content.pop("noted", {}).items()
        return content | {f"item {key}": f"{standing}: {title} [{mark}]" for key, (standing, mark, title) in items}

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:readiness", args=(self.activity_id,))


class PollPositionQuerySet(RecordQuerySet["PollPosition"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> PollPositionQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()


class PollPosition(Membership):
    """Who speaks for a station in the poll of an activity. Not active: isn't asked any more."""

    KIND = "poll_position"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="positions")
    name = models.CharField(max_length=80)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="positions_held"
    )

    objects = PollPositionQuerySet.as_manager()

    class Meta:
        ordering = ("activity", "pk")
        constraints = (models.UniqueConstraint(fields=("activity", "name"), name="poll_position_once"),)

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Its place on the page of readiness."""
        return f"{reverse('anomalies:readiness', args=(self.activity_id,))}#poll_position-{self.pk}"


class PollAnswerQuerySet(RecordQuerySet["PollAnswer"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> PollAnswerQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()

    def said_last_in(self, review: ReadinessReview) -> PollAnswerQuerySet:
        """The last that each position said in the round that is under way, or ended last."""
        later = self.model.objects.filter(position=OuterRef("position"), round=OuterRef("round"), pk__gt=OuterRef("pk"))
        return self.filter(review=review, round=review.round, position__active=True).filter(~Exists(later))


class PollAnswer(Record):
    """What a position said in a round, signed; the last that it said counts, unless it was overtaken.

    noted           what the list said then, as in the review
    settled_at      when its condition was found to be met
    overtaken_at    when something on which it rested had changed: it has to be given anew
    """

    class Stand(models.TextChoices):
        """What a position says."""

        GO = "go", "Go"
        CONDITION = "condition", "Go with condition"
        NO_GO = "no_go", "No-go"

    KIND = "poll_answer"

    review = models.ForeignKey(ReadinessReview, on_delete=models.PROTECT, related_name="answers")
    position = models.ForeignKey(PollPosition, on_delete=models.PROTECT, related_name="answers")
    round = models.PositiveIntegerField()
    stand = models.CharField(max_length=10, choices=Stand.choices)
    text = models.TextField(blank=True)
    noted = models.JSONField(default=dict, blank=True)
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="poll_answers")
    answered_at = models.DateTimeField()
    settled_note = models.TextField(blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    settled_at = models.DateTimeField(null=True, blank=True)
    overtaken_at = models.DateTimeField(null=True, blank=True)
    overtaken_because = models.TextField(blank=True)

    objects = PollAnswerQuerySet.as_manager()

    class Meta:
        ordering = ("review", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(stand="go") | ~Q(text=""), name="poll_answer_says_why"),
            models.CheckConstraint(
                condition=Q(settled_at__isnull=True) | (Q(stand="condition") & ~Q(settled_note="")),
                name="poll_answer_settled_says_how",
            ),
        )

    def __str__(self) -> str:
        return f"{self.position.name}: {self.get_stand_display()}"

    def get_absolute_url(self) -> str:
        """Its place on the page of readiness."""
        return self.position.get_absolute_url()


class WaiverQuerySet(RecordQuerySet["Waiver"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> WaiverQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()

    def holding(self, activity: Activity) -> WaiverQuerySet:
        """Not withdrawn, and for this activity: its own, and those of earlier ones that hold for what comes after."""
        earlier = Q(carries=True, activity__planned_start__lte=activity.planned_start)
        return self.filter(state=WaiverState.STANDING).filter(Q(activity=activity) | earlier)


class Waiver(Record):
    """That an item of the list is accepted as it is until `expires_at`: why, and with what risk remaining; signed.

    item, mark      key of the item, like action-12, and what it was marked with: it accepts nothing else
    carries         it holds for later activities too, until it expires
    figure          top-event probability of the anomaly's fault tree when it was granted, with its range and method
    """

    KIND = "waiver"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="waivers")
    item = models.CharField(max_length=80)
    mark = models.TextField(blank=True)
    title = models.CharField(max_length=400)
    anomaly = models.ForeignKey(Anomaly, null=True, blank=True, on_delete=models.PROTECT, related_name="waivers")
    carries = models.BooleanField(default=False)
    reason = models.TextField()
    severity = models.PositiveSmallIntegerField(choices=Severity.choices)
    probability = models.CharField(max_length=1, choices=Probability.choices)
    figure = models.FloatField(null=True, blank=True)
    figure_low = models.FloatField(null=True, blank=True)
    figure_high = models.FloatField(null=True, blank=True)
    figure_method = models.TextField(blank=True)
    expires_at = models.DateTimeField()
    granted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="waivers")
    granted_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=WaiverState.choices, default=WaiverState.STANDING)
    state_reason = models.TextField(blank=True)

    objects = WaiverQuerySet.as_manager()

    class Meta:
        ordering = ("activity", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=WaiverState.values), name="waiver_state_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="waiver_says_why"),
            models.CheckConstraint(
                condition=Q(severity__in=Severity.values, probability__in=Probability.values), name="waiver_risk_whole"
            ),
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("granted_at")), name="waiver_expires_after_it_is_granted"
            ),
            models.UniqueConstraint(
                fields=("activity", "item"), condition=Q(state=WaiverState.STANDING), name="waiver_stands_once"
            ),
        )

    def __str__(self) -> str:
        return f"Waiver of {self.title}"

    def get_absolute_url(self) -> str:
        """Its place on the page of readiness."""
        return f"{reverse('anomalies:readiness', args=(self.activity_id,))}#waiver-{self.pk}"

    @property
    def risk_code(self) -> str:
        """The risk assessment code, as in 2C."""
        return write_code(self.severity, self.probability)


class SnapshotQuerySet(RecordQuerySet["ReadinessSnapshot"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> SnapshotQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()


class ReadinessSnapshot(Record):
    """What a round ended with: list, poll and verdict, as they were when it was signed; never changed afterwards.

    `document` is JSON text. The ledger holds its SHA-256 in its place, worked out from the text whenever it's asked.
    """

    KIND = "readiness_snapshot"

    review = models.ForeignKey(ReadinessReview, on_delete=models.PROTECT, related_name="snapshots")
    round = models.PositiveIntegerField()
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    reason = models.TextField(blank=True)
    document = models.TextField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    objects = SnapshotQuerySet.as_manager()

    class Meta:
        ordering = ("review", "-round")
        constraints = (models.UniqueConstraint(fields=("review", "round"), name="snapshot_once_a_round"),)

    def __str__(self) -> str:
        return f"Round {self.round}: {self.get_verdict_display()}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:readiness_snapshot", args=(self.review.activity_id, self.round))

    @property
    def document_hash(self) -> str:
        """SHA-256 of the document, in hexadecimal."""
        return sha256(self.document.encode()).hexdigest()

    def content(self) -> dict[str, Any]:
        """Return all fields, the document by its hash."""
        content = super().content()
        del content["document"]
        return content | {"document_hash": self.document_hash}
