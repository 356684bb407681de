"""A draft: what one person is making of a tree, step by step, until it is saved as a revision."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from config.kit.permissions import Actor
from faulttree.models.tree import Tree, TreeRevision


class DraftQuerySet(models.QuerySet["TreeDraft"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> DraftQuerySet:
        """A person's own drafts: nobody else sees what isn't saved."""
        return self.filter(owner_id=getattr(actor, "pk", None) or 0)


class TreeDraft(models.Model):
    """One person's unsaved work on one tree; a new tree has no `tree` yet.

    `base` is the revision it began from. `position` is the number of the step that is shown: undo goes back, redo
    forward, and a new step cuts off those after it.
    """

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="tree_drafts")
    tree = models.ForeignKey(Tree, null=True, blank=True, on_delete=models.CASCADE, related_name="drafts")
    base = models.ForeignKey(TreeRevision, null=True, blank=True, on_delete=models.PROTECT, related_name="drafts")
    name = models.CharField(max_length=200)
    label = models.CharField(max_length=300, blank=True)
    position = models.PositiveIntegerField(default=0)
    mission_time = models.FloatField(null=True, blank=True)
    """Hours; what the live figures are taken at."""
    created = models.DateTimeField(auto_now_add=True)
    changed = models.DateTimeField(auto_now=True)

    objects = DraftQuerySet.as_manager()

    class Meta:
        ordering = ("-changed",)
        constraints = (
            models.UniqueConstraint(
                fields=("owner", "tree"), condition=Q(tree__isnull=False), name="draft_once_per_person_and_tree"
            ),
            models.CheckConstraint(
                condition=Q(mission_time__isnull=True) | Q(mission_time__gte=0.0), name="draft_mission_time_from_0"
            ),
        )

    def __str__(self) -> str:
        return f"Draft of {self.label or self.name}"

    def get_absolute_url(self) -> str:
        """The bench with this draft."""
        return reverse("faulttree:bench", args=[self.pk])


class DraftStep(models.Model):
    """What one step did, in words and as data, and the whole model after it; step 0 is what the draft began with."""

    draft = models.ForeignKey(TreeDraft, on_delete=models.CASCADE, related_name="steps")
    number = models.PositiveIntegerField()
    edit = models.JSONField(null=True, blank=True)
    words = models.CharField(max_length=300)
    document = models.BinaryField()
    """The model in our JSON, compressed by zlib."""
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("draft", "number")
        constraints = (models.UniqueConstraint(fields=("draft", "number"), name="draft_step_number_once"),)

    def __str__(self) -> str:
        return f"Step {self.number}: {self.words}"
