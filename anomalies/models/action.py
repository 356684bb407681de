"""Corrective actions: what is done about causes, by whom, how it was done, who verified it, whether it works."""

from __future__ import annotations

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.activity import Activity
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.cause import Cause
from anomalies.models.evidence import Evidence
from anomalies.models.hardware import HardwareItem
from anomalies.states import ActionState
from config.kit.permissions import Actor, allows


class ActionQuerySet(RecordQuerySet["CorrectiveAction"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ActionQuerySet:
        """All for those who may see actions, none for the others."""
        return self if allows(actor, "action.view") else self.none()

    def owed(self) -> ActionQuerySet:
        """Proposed or committed: still to be done."""
        return self.filter(state__in=(ActionState.PROPOSED, ActionState.COMMITTED))

    def overdue(self, today: date) -> ActionQuerySet:
        """Still to be done, and due before today (UTC)."""
        return self.owed().filter(due_on__lt=today)

    def awaiting_verification(self) -> ActionQuerySet:
        """Done, and not verified yet."""
        return self.filter(state=ActionState.DONE)

    def on_watch(self) -> ActionQuerySet:
        """Verified, and not found effective yet."""
        return self.filter(state=ActionState.VERIFIED)

    def unsettled(self) -> ActionQuerySet:
        """What keeps an anomaly open: neither verified nor dropped."""
        return self.filter(state__in=(ActionState.PROPOSED, ActionState.COMMITTED, ActionState.DONE))


class CorrectiveAction(Record):
    """One corrective action, like CA-2031-003, belonging to one anomaly.

    What was done is told by `done_*` and, by kind, by the serial numbers of a replacement and its retest, or by the
    item, quantity, stowage and delivery of kit. `cost` (in the programme's own unit), `mass_kg`, `crew_hours` and
    `lead_days` are what it takes, for choosing among actions. `watch_activities` is how many completed activities with
    the hardware concerned must pass without recurrence before the action counts as effective.
    """

    class Kind(models.TextChoices):
        """What is changed."""

        REPLACEMENT = "replacement", "Replace hardware"
        DESIGN = "design", "Design change"
        PROCEDURE = "procedure", "Procedure change"
        TRAINING = "training", "Training"
        KIT = "kit", "Kit change"
        LIMIT = "limit", "Operating limit"
        INSPECTION = "inspection", "Inspection"

    class Retest(models.TextChoices):
        """How the retest of a replacement ended."""

        PASSED = "passed", "Passed"
        FAILED = "failed", "Failed"

    KIND = "action"

    number = models.CharField(max_length=20, unique=True)
    anomaly = models.ForeignKey(Anomaly, on_delete=models.PROTECT, related_name="actions")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    title = models.CharField(max_length=200)
    description = models.TextField(blank=True)
    acceptance_criteria = models.TextField(blank=True)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="actions_owned"
    )
    due_on = models.DateField(null=True, blank=True)
    needed_before = models.ForeignKey(
        Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="actions_needed"
    )
    watch_activities = models.PositiveSmallIntegerField(null=True, blank=True)
    cost = models.FloatField(null=True, blank=True)
    mass_kg = models.FloatField(null=True, blank=True)
    crew_hours = models.FloatField(null=True, blank=True)
    lead_days = models.FloatField(null=True, blank=True)
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()

    doer = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="actions_done"
    )
    done_at = models.DateTimeField(null=True, blank=True)
    done_note = models.TextField(blank=True)
    removed_item = models.ForeignKey(
        HardwareItem, null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by_actions"
    )
    installed_item = models.ForeignKey(
        HardwareItem, null=True, blank=True, on_delete=models.PROTECT, related_name="installed_by_actions"
    )
    retest = models.CharField(max_length=8, choices=Retest.choices, blank=True)
    retest_note = models.TextField(blank=True)
    kit_item = models.CharField(max_length=200, blank=True)
    kit_quantity = models.PositiveIntegerField(null=True, blank=True)
    kit_stowage = models.CharField(max_length=200, blank=True)
    kit_delivery = models.CharField(max_length=200, blank=True)

    verifier = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="actions_verified"
    )
    verified_at = models.DateTimeField(null=True, blank=True)
    verification_note = models.TextField(blank=True)
    effectiveness_note = models.TextField(blank=True)
    state = models.CharField(max_length=12, choices=ActionState.choices, default=ActionState.PROPOSED)
    state_reason = models.TextField(blank=True)

    objects = ActionQuerySet.as_manager()

    class Meta:
        ordering = ("-proposed_at", "-pk")
        permissions = (
            ("commit_correctiveaction", "Can commit an owner to a corrective action"),
            ("do_correctiveaction", "Can record that a corrective action was done"),
            ("verify_correctiveaction", "Can verify a corrective action"),
        )
        indexes = (models.Index(fields=("state", "due_on"), name="action_state_due"),)
        constraints = (
            models.CheckConstraint(condition=Q(state__in=ActionState.values), name="action_state_known"),
            models.CheckConstraint(
                condition=Q(state__in=(ActionState.PROPOSED, ActionState.DROPPED))
                | (Q(owner__isnull=False, due_on__isnull=False) & ~Q(acceptance_criteria="")),
                name="action_committed_is_complete",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(ActionState.DONE, ActionState.VERIFIED, ActionState.EFFECTIVE))
                | Q(doer__isnull=False, done_at__isnull=False),
                name="action_done_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(ActionState.VERIFIED, ActionState.EFFECTIVE))
                | (
                    Q(verifier__isnull=False, verified_at__isnull=False)
                    & ~Q(verifier=models.F("owner"))
                    & ~Q(verifier=models.F("doer"))
                ),
                name="action_verified_by_another",
            ),
            models.CheckConstraint(
                condition=~Q(state=ActionState.DROPPED) | ~Q(state_reason=""), name="action_dropped_says_why"
            ),
        )

    def __str__(self) -> str:
        return f"{self.number} · {self.title}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:action", args=(self.number,))


class ActionCause(Membership):
    """That an action addresses a cause. Not active: doesn't any more."""

    KIND = "action_cause"

    action = models.ForeignKey(CorrectiveAction, on_delete=models.PROTECT, related_name="addresses")
    cause = models.ForeignKey(Cause, on_delete=models.PROTECT, related_name="addressed_by")

    objects = RecordQuerySet["ActionCause"].as_manager()

    class Meta:
        ordering = ("action", "pk")
        constraints = (models.UniqueConstraint(fields=("action", "cause"), name="action_cause_once"),)

    def __str__(self) -> str:
        return f"cause {self.cause_id} addressed by action {self.action_id}"


class ActionEvidence(Membership):
    """That a piece of evidence shows that an action was done, or that it meets its criteria."""

    class Use(models.TextChoices):
        """What it shows."""

        DONE = "done", "that it was done"
        VERIFIED = "verified", "that it meets its acceptance criteria"

    KIND = "action_evidence"

    action = models.ForeignKey(CorrectiveAction, on_delete=models.PROTECT, related_name="shown_by")
    evidence = models.ForeignKey(Evidence, on_delete=models.PROTECT, related_name="shows_actions")
    use = models.CharField(max_length=8, choices=Use.choices)

    objects = RecordQuerySet["ActionEvidence"].as_manager()

    class Meta:
        ordering = ("action", "pk")
        constraints = (models.UniqueConstraint(fields=("action", "evidence", "use"), name="action_evidence_once"),)

    def __str__(self) -> str:
        return f"evidence {self.evidence_id} shows {self.get_use_display()}"
