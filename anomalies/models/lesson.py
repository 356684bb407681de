"""Lessons: what to do differently, where it applies, and what came of it each time it was offered."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce
from django.urls import reverse

from anomalies.models.action import CorrectiveAction
from anomalies.models.activity import Activity
from anomalies.models.anomaly import Anomaly
from anomalies.models.base import Membership, Record, RecordQuerySet
from anomalies.models.hardware import HardwareType
from anomalies.models.procedure import Procedure, ProcedureRevision
from anomalies.models.requirement import Requirement
from anomalies.states import LessonState, LessonUseState
from config.kit.permissions import Actor, allows


class LessonQuerySet(RecordQuerySet["Lesson"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> LessonQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def issued(self) -> LessonQuerySet:
        """For everybody to heed."""
        return self.filter(state=LessonState.ISSUED)

    def never_applied(self) -> LessonQuerySet:
        """Issued, and nothing was changed because of it so far: accepting alone changes nothing."""
        applied = LessonUse.objects.applied().filter(lesson=OuterRef("pk"))
        return self.issued().filter(~Exists(applied))


class Lesson(Record):
    """One lesson, like L-2031-004: drawn from a closed anomaly, or from an activity that is over."""

    KIND = "lesson"

    number = models.CharField(max_length=20, unique=True)
    title = models.CharField(max_length=200)
    anomaly = models.ForeignKey(Anomaly, null=True, blank=True, on_delete=models.PROTECT, related_name="lessons")
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="lessons")
    what_happened = models.TextField()
    why = models.TextField()
    what_to_do = models.TextField()
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="lessons")
    written_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    issued_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=LessonState.choices, default=LessonState.DRAFTED)
    state_reason = models.TextField(blank=True)

    objects = LessonQuerySet.as_manager()

    class Meta:
        ordering = ("-written_at", "-pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=LessonState.values), name="lesson_state_known"),
            models.CheckConstraint(
                condition=Q(anomaly__isnull=False, activity__isnull=True)
                | Q(anomaly__isnull=True, activity__isnull=False),
                name="lesson_has_one_origin",
            ),
            models.CheckConstraint(
                condition=~Q(state=LessonState.ISSUED) | Q(issued_at__isnull=False, issued_by__isnull=False),
                name="lesson_issued_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(state=LessonState.RETIRED) | ~Q(state_reason=""), name="lesson_retired_says_why"
            ),
        )

    def __str__(self) -> str:
        return f"{self.number} · {self.title}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:lesson", args=(self.number,))

    @property
    def origin(self) -> Record:
        """What it was drawn from."""
        origin = self.anomaly or self.activity
        assert origin is not None  # a constraint of the table
        return origin

    @property
    def text(self) -> str:
        """All that it says."""
        return "\n".join((self.title, self.what_happened, self.why, self.what_to_do))


class LessonPlace(Membership):
    """One thing that a lesson applies to. Not active: doesn't any more."""

    KIND = "lesson_place"

    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="places")
    hardware_type = models.ForeignKey(
        HardwareType, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_places"
    )
    procedure = models.ForeignKey(
        Procedure, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_places"
    )
    activity_kind = models.CharField(max_length=12, choices=Activity.Kind.choices, blank=True)
    task = models.CharField(max_length=200, blank=True)

    objects = RecordQuerySet["LessonPlace"].as_manager()

    class Meta:
        ordering = ("lesson", "pk")
        constraints = (
            models.UniqueConstraint(
                "lesson",
                Coalesce("hardware_type", 0),
                Coalesce("procedure", 0),
                "activity_kind",
                "task",
                name="lesson_place_once",
            ),
            models.CheckConstraint(
                condition=Q(hardware_type__isnull=False, procedure__isnull=True, activity_kind="", task="")
                | Q(hardware_type__isnull=True, procedure__isnull=False, activity_kind="", task="")
                | (Q(hardware_type__isnull=True, procedure__isnull=True, task="") & ~Q(activity_kind=""))
                | (Q(hardware_type__isnull=True, procedure__isnull=True, activity_kind="") & ~Q(task="")),
                name="lesson_place_names_one_thing",
            ),
        )

    def __str__(self) -> str:
        if self.activity_kind:
            return f"every {self.get_activity_kind_display().lower()}"
        return str(self.hardware_type or self.procedure or f"task “{self.task}”")


class LessonUseQuerySet(RecordQuerySet["LessonUse"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> LessonUseQuerySet:
        """All for those who may see anomalies, none for the others."""
        return self if allows(actor, "anomaly.view") else self.none()

    def standing(self) -> LessonUseQuerySet:
        """Not withdrawn."""
        return self.filter(state=LessonUseState.STANDING)

    def applied(self) -> LessonUseQuerySet:
        """Accepted, and tied to what was changed for it."""
        changed = Q(changed_revision__isnull=False) | Q(changed_requirement__isnull=False)
        return self.standing().filter(changed | Q(changed_action__isnull=False), decision=LessonUse.Decision.ACCEPTED)


class LessonUse(Record):
    """What was decided when a lesson was offered for an anomaly, an activity or a procedure.

    An accepted one names what was changed for it, once something was: a revision of a procedure, what a kind of
    activity asks for (training, a fit check), or an action.
    """

    class Decision(models.TextChoices):
        """What was decided."""

        ACCEPTED = "accepted", "Accepted"
        DECLINED = "declined", "Declined"

    KIND = "lesson_use"

    lesson = models.ForeignKey(Lesson, on_delete=models.PROTECT, related_name="uses")
    anomaly = models.ForeignKey(Anomaly, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_uses")
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_uses")
    procedure = models.ForeignKey(
        Procedure, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_uses"
    )
    decision = models.CharField(max_length=10, choices=Decision.choices)
    reason = models.TextField()
    changed_revision = models.ForeignKey(
        ProcedureRevision, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_uses"
    )
    changed_requirement = models.ForeignKey(
        Requirement, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_uses"
    )
    changed_action = models.ForeignKey(
        CorrectiveAction, null=True, blank=True, on_delete=models.PROTECT, related_name="lesson_uses"
    )
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=LessonUseState.choices, default=LessonUseState.STANDING)
    state_reason = models.TextField(blank=True)

    objects = LessonUseQuerySet.as_manager()

    class Meta:
        ordering = ("lesson", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=LessonUseState.values), name="lesson_use_state_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="lesson_use_says_why"),
            models.CheckConstraint(
                condition=Q(anomaly__isnull=False, activity__isnull=True, procedure__isnull=True)
                | Q(anomaly__isnull=True, activity__isnull=False, procedure__isnull=True)
                | Q(anomaly__isnull=True, activity__isnull=True, procedure__isnull=False),
                name="lesson_use_is_for_one_thing",
            ),
            models.UniqueConstraint(
                "lesson",
                Coalesce("anomaly", 0),
                Coalesce("activity", 0),
                Coalesce("procedure", 0),
                condition=Q(state=LessonUseState.STANDING),
                name="lesson_use_stands_once",
            ),
        )

    def __str__(self) -> str:
        return f"{self.lesson.number} {self.get_decision_display().lower()} for {self.place}"

    @property
    def place(self) -> Record:
        """What it was offered for."""
        place = self.anomaly or self.activity or self.procedure
        assert place is not None  # a constraint of the table
        return place

    @property
    def changed(self) -> Record | None:
        """What was changed for it, if anything was."""
        return self.changed_revision or self.changed_requirement or self.changed_action

    def get_absolute_url(self) -> str:
        """Its place on the lesson's page."""
        return f"{self.lesson.get_absolute_url()}#lesson_use-{self.pk}"
