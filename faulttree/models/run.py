"""One quantification of one revision. The row is the job: a queue message only points at it."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.urls import reverse
from django.utils import timezone

from config.kit.permissions import Actor, allows
from faulttree.models.tree import TreeRevision
from faulttree.states import ACTIVE, RunState

IDLE_WORKER_TAKES = timedelta(seconds=8)


class RunQuerySet(models.QuerySet["Run"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> RunQuerySet:
        """All runs for those who may see trees, none for the others."""
        return self if allows(actor, "tree.view") else self.none()

    def without_result(self) -> RunQuerySet:
        """Leave the answer, which can be large, in the database until it is asked for; its headline comes along."""
        return self.defer("result")

    def without_overrides(self) -> RunQuerySet:
        """Of the tree as it stands, not of a variant."""
        return self.filter(request__overrides__isnull=True)

    def active(self) -> RunQuerySet:
        """Waiting or computing."""
        return self.filter(state__in=ACTIVE)

    def running(self) -> RunQuerySet:
        """Claimed by a worker."""
        return self.filter(state=RunState.RUNNING)

    def waiting_and_sent_before(self, moment: datetime) -> RunQuerySet:
        """Waiting, its message last sent before `moment` or not sent at all."""
        return self.filter(state=RunState.QUEUED).filter(models.Q(sent_at__lt=moment) | ~models.Q(sent_problem=""))


class Run(models.Model):
    """What was asked of a revision, how far it is, and the answer.

    `request_hash` stands for the revision, the request and the budget together: equal requests share one run.
    `sent_at` is when its message last went to the queue. `attempt` counts claims; a worker that lost its
    claim to another finds a higher number and stops.
    """

    revision = models.ForeignKey(TreeRevision, on_delete=models.PROTECT, related_name="runs")
    data_set = models.ForeignKey(
        "faulttree.DataSet", null=True, blank=True, on_delete=models.PROTECT, related_name="runs"
    )
    """The values of the library it is computed with; None where the tree uses none."""
    request = models.JSONField()
    request_hash = models.CharField(max_length=64, unique=True)
    requested_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="runs")

    state = models.CharField(max_length=12, choices=RunState.choices, default=RunState.QUEUED)
    step = models.CharField(max_length=200, blank=True)
    share = models.FloatField(default=0.0)
    cancel_requested = models.BooleanField(default=False)
    attempt = models.PositiveIntegerField(default=0)
    worker = models.CharField(max_length=200, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    sent_problem = models.CharField(max_length=300, blank=True)
    """Why its message could not be sent to a worker the last time, in words for a person; empty when it was."""

    created = models.DateTimeField(auto_now_add=True)
    queued_at = models.DateTimeField()
    sent_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    headline = models.JSONField(null=True, blank=True)
    """The few figures of the answer that lists show, so that they needn't read all of it."""
    result = models.JSONField(null=True, blank=True)
    error = models.JSONField(null=True, blank=True)

    objects = RunQuerySet.as_manager()

    class Meta:
        ordering = ("-created", "-pk")
        permissions = (("cancel_run", "Can cancel a run"),)
        indexes = (models.Index(fields=("state", "sent_at"), name="run_state_sent"),)
        constraints = (
            models.CheckConstraint(condition=models.Q(state__in=RunState.values), name="run_state_known"),
            models.CheckConstraint(condition=models.Q(share__gte=0.0, share__lte=1.0), name="run_share_is_a_share"),
            models.CheckConstraint(
                condition=~models.Q(state=RunState.DONE) | models.Q(result__isnull=False),
                name="run_done_has_a_result",
            ),
        )

    def __str__(self) -> str:
        return f"Run {self.pk} of {self.revision_id}"

    def get_absolute_url(self) -> str:
        """The page of the revision with this run's answer."""
        return reverse("faulttree:run", args=[self.pk])

    @property
    def has_overrides(self) -> bool:
        """Computed with something different from the tree."""
        return "overrides" in self.request

    @property
    def is_active(self) -> bool:
        """Waiting or computing."""
        return self.state in ACTIVE

    @property
    def waits_long(self) -> bool:
        """No worker has taken it for longer than an idle one would need."""
        return self.state == RunState.QUEUED and timezone.now() - self.queued_at > IDLE_WORKER_TAKES

    @property
    def was_restarted(self) -> bool:
        """More than one worker had it: the one before was lost."""
        return self.attempt > 1

    @property
    def seconds(self) -> float | None:
        """How long it computed, start to end; None while it doesn't apply."""
        if self.started_at is None or self.finished_at is None:
            return None
        return (self.finished_at - self.started_at).total_seconds()


class RunPart(models.Model):
    """A block of the samples of a run, computed by whichever worker takes it; the run ends when all are done."""

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField()
    start = models.PositiveIntegerField()
    stop = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=RunState.choices, default=RunState.QUEUED)
    attempt = models.PositiveIntegerField(default=0)
    worker = models.CharField(max_length=200, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField()
    values = models.BinaryField(null=True, blank=True)
    """What the block gave, compressed; None until it is done."""

    class Meta:
        ordering = ("run", "number")
        constraints = (
            models.UniqueConstraint(fields=("run", "number"), name="run_part_number_once"),
            models.CheckConstraint(condition=models.Q(start__lt=models.F("stop")), name="run_part_not_empty"),
            models.CheckConstraint(condition=models.Q(state__in=RunState.values), name="run_part_state_known"),
        )

    def __str__(self) -> str:
        return f"Part {self.number} of run {self.run_id}"
