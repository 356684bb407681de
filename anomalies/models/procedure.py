"""Procedures, their revisions, where they are used, and who has read them."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery
from django.urls import reverse

from anomalies.models.action import CorrectiveAction
from anomalies.models.activity import Activity
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.ledger import LedgerEntry
from anomalies.states import ActivityState, RevisionState
from anomalies.steps import Steps, load_steps
from config.kit.permissions import Actor, allows

V = RevisionState
STEP_FIELD, ORDER_FIELD = "step ", "step_order"
"""How the ledger names a step (with its key), and the order of all."""
UNDECIDED = (V.DRAFTED, V.SUBMITTED, V.APPROVED)
TO_COME = (ActivityState.PLANNED, ActivityState.UNDER_WAY)


class ProcedureQuerySet(RecordQuerySet["Procedure"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ProcedureQuerySet:
        """All for those who may see procedures, none for the others."""
        return self if allows(actor, "procedure.view") else self.none()


class Procedure(Record):
    """What is done the same way each time. Its title stays once a revision was submitted: people sign under it."""

    class Kind(models.TextChoices):
        """When it's used."""

        OPERATION = "operation", "Planned operation"
        CONTINGENCY = "contingency", "Contingency"
        MAINTENANCE = "maintenance", "Maintenance"
        CHECKOUT = "checkout", "Test or checkout"
        CARD = "card", "Quick-response card"

    KIND = "procedure"

    number = models.CharField(max_length=20, unique=True)
    title = models.CharField(max_length=200)
    kind = models.CharField(max_length=12, choices=Kind.choices)

    objects = ProcedureQuerySet.as_manager()

    class Meta:
        ordering = ("number",)
        permissions = (
            ("approve_procedure", "Can approve a revision of a procedure"),
            ("release_procedure", "Can release a revision of a procedure, and withdraw it"),
        )

    def __str__(self) -> str:
        return f"{self.number} · {self.title}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:procedure", args=(self.number,))

    @property
    def is_card(self) -> bool:
        """It must fit on one small card."""
        return self.kind == self.Kind.CARD


class ProcedureRevisionQuerySet(RecordQuerySet["ProcedureRevision"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> ProcedureRevisionQuerySet:
        """All for those who may see procedures, none for the others."""
        return self if allows(actor, "procedure.view") else self.none()

    def undecided(self) -> ProcedureRevisionQuerySet:
        """Neither released nor withdrawn."""
        return self.filter(state__in=UNDECIDED)

    def ever_released(self) -> ProcedureRevisionQuerySet:
        """Released once, whatever became of it."""
        return self.filter(released_at__isnull=False)

    def in_force_for(self, activity: Activity) -> ProcedureRevisionQuerySet:
        """Per procedure the one revision that holds for the activity, if any: the newest that is effective by then.

        A withdrawn one isn't in force, and nor is the one before: what replaced it may have had its reasons.
        """
        effective = self.model.objects.ever_released().filter(effective_from__planned_start__lte=activity.planned_start)
        newer = effective.filter(procedure=OuterRef("procedure"), number__gt=OuterRef("number"))
        return self.filter(pk__in=effective.values("pk")).exclude(state=V.WITHDRAWN).filter(~Exists(newer))


class ProcedureRevision(Record):
    """One numbered text of a procedure. `base` is the one it was drafted from, the latest ever released then.

    `steps` is what `anomalies.steps` stores. Effective from the planned start of an activity on.
    """

    KIND = "procedure_revision"

    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    base = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="drafted_from_this")
    summary = models.TextField()
    anomaly = models.ForeignKey(
        Anomaly, null=True, blank=True, on_delete=models.PROTECT, related_name="procedure_revisions"
    )
    action = models.ForeignKey(
        CorrectiveAction, null=True, blank=True, on_delete=models.PROTECT, related_name="procedure_revisions"
    )
    steps = models.JSONField(default=list, blank=True)

    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="revisions_drafted")
    approver = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="revisions_approved"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    released_at = models.DateTimeField(null=True, blank=True)
    effective_from = models.ForeignKey(
        Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="revisions_effective"
    )
    state = models.CharField(max_length=12, choices=V.choices, default=V.DRAFTED)
    state_reason = models.TextField(blank=True)

    objects = ProcedureRevisionQuerySet.as_manager()

    class Meta:
        ordering = ("procedure", "-number")
        constraints = (
            models.UniqueConstraint(fields=("procedure", "number"), name="revision_number_once"),
            models.UniqueConstraint(
                fields=("procedure",), condition=Q(state__in=UNDECIDED), name="revision_one_undecided"
            ),
            models.UniqueConstraint(fields=("procedure",), condition=Q(state=V.RELEASED), name="revision_one_released"),
            models.CheckConstraint(condition=Q(state__in=V.values), name="revision_state_known"),
            models.CheckConstraint(
                condition=Q(approver__isnull=True) | ~Q(approver=F("author")), name="revision_approver_is_not_author"
            ),
            models.CheckConstraint(
                condition=Q(state__in=(V.DRAFTED, V.SUBMITTED, V.WITHDRAWN)) | Q(approver__isnull=False),
                name="revision_approved_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(released_at__isnull=True, effective_from__isnull=True)
                | Q(released_at__isnull=False, effective_from__isnull=False, approver__isnull=False),
                name="revision_released_is_effective",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(V.RELEASED, V.SUPERSEDED)) | Q(released_at__isnull=False),
                name="revision_released_has_a_time",
            ),
            models.CheckConstraint(
                condition=~Q(state=V.WITHDRAWN) | ~Q(state_reason=""), name="revision_withdrawn_has_a_reason"
            ),
        )

    def __str__(self) -> str:
        return f"revision {self.number}"

    def get_absolute_url(self) -> str:
        """Return its page, below the procedure's."""
        return reverse("anomalies:revision", args=(self.procedure.number, self.number))

    def content(self) -> dict[str, Any]:
        """Return all fields, each step as one of its own, so that the ledger holds what changed and not all steps."""
        content = super().content()
        steps = content.pop("steps", [])
        parts = {STEP_FIELD + step["key"]: step for step in steps}
        return content | ({ORDER_FIELD: [step["key"] for step in steps]} | parts if steps else {})

    def read_steps(self) -> Steps:
        """Return the steps as values."""
        return load_steps(self.steps)

    def was_written_by(self, person: Any) -> bool:
        """Tell whether the person drafted this revision or edited it since; asks the ledger."""
        edits = LedgerEntry.objects.of(self.KIND, self.pk).filter(action__in=WRITING)
        return self.author_id == person.pk or edits.filter(actor_id=person.pk).exists()


WRITING = (
    *(f"procedure_revision.{verb}_step" for verb in ("add", "change", "move", "delete")),
    *(f"procedure_revision.{verb}_notice" for verb in ("insert", "change", "remove")),
    "procedure_revision.draft",
    "procedure_revision.edit",
)
"""The ledger's actions that write a revision: whoever did one is an author of it."""


class ProcedureUseQuerySet(RecordQuerySet["ProcedureUse"]):
    """Filters in the words of the job."""

    def to_come(self) -> ProcedureUseQuerySet:
        """On the list of an activity that isn't over."""
        return self.filter(active=True, activity__state__in=TO_COME)

    def with_revision(self) -> ProcedureUseQuerySet:
        """With `revision_id`, the key of the revision in force for the activity; None if there's none."""
        effective = ProcedureRevision.objects.ever_released().filter(
            procedure=OuterRef("procedure"), effective_from__planned_start__lte=OuterRef("activity__planned_start")
        )
        newest = effective.order_by("-number").values("pk")[:1]
        in_force = ProcedureRevision.objects.exclude(state=V.WITHDRAWN).filter(pk=OuterRef("newest_id")).values("pk")
        return self.annotate(newest_id=Subquery(newest)).annotate(revision_id=Subquery(in_force))


class ProcedureUse(Membership):
    """That an activity uses a procedure: its whole crew, or those in the role. Not active: was taken off again."""

    KIND = "procedure_use"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="procedure_uses")
    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="uses")
    role = models.CharField(max_length=80, blank=True)

    objects = ProcedureUseQuerySet.as_manager()

    class Meta:
        ordering = ("activity", "pk")
        constraints = (models.UniqueConstraint(fields=("activity", "procedure", "role"), name="procedure_use_once"),)

    def __str__(self) -> str:
        return f"procedure {self.procedure_id} in activity {self.activity_id}"


class Acknowledgement(Record):
    """That somebody has read a revision, as it was then."""

    KIND = "acknowledgement"

    revision = models.ForeignKey(ProcedureRevision, on_delete=models.PROTECT, related_name="acknowledgements")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="acknowledgements")
    acknowledged_at = models.DateTimeField()

    objects = RecordQuerySet["Acknowledgement"].as_manager()

    class Meta:
        ordering = ("revision", "pk")
        constraints = (models.UniqueConstraint(fields=("revision", "person"), name="acknowledged_once"),)

    def __str__(self) -> str:
        return f"revision {self.revision_id} by person {self.person_id}"
