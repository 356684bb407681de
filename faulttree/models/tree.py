"""A fault tree and its revisions. A revision is never changed: what is new is a new revision."""

from __future__ import annotations

import hashlib
from typing import Any, ClassVar, NoReturn

from django.conf import settings
from django.db import models
from django.urls import reverse

from config.kit.canonical import hash_canonical
from config.kit.ledger import kept, read_columns
from config.kit.permissions import Actor, allows


class TreeQuerySet(models.QuerySet["Tree"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> TreeQuerySet:
        """All trees for those who may see trees, none for the others."""
        return self if allows(actor, "tree.view") else self.none()

    def matching(self, words: str) -> TreeQuerySet:
        """Those whose name or label holds every word."""
        found = self
        for word in words.split():
            found = found.filter(models.Q(name__icontains=word) | models.Q(label__icontains=word))
        return found


class Tree(models.Model):
    """One undesired event and its fault tree, through all revisions."""

    name = models.CharField(max_length=200, unique=True)
    label = models.CharField(max_length=300, blank=True)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="trees")
    created = models.DateTimeField(auto_now_add=True)
    origin = models.ForeignKey(
        "faulttree.TreeRevision", null=True, blank=True, on_delete=models.PROTECT, related_name="copies"
    )
    """The revision that it was copied from; None for a tree that was made or imported."""

    objects = TreeQuerySet.as_manager()

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.label or self.name

    def get_absolute_url(self) -> str:
        """The page of the newest revision."""
        return reverse("faulttree:tree", args=[self.pk])


class RevisionQuerySet(models.QuerySet["TreeRevision"]):
    """Filters in the words of the job; refuses to change what is frozen."""

    def visible_to(self, actor: Actor) -> RevisionQuerySet:
        """All revisions for those who may see trees, none for the others."""
        return self if allows(actor, "tree.view") else self.none()

    def without_source(self) -> RevisionQuerySet:
        """Leave the model text in the database until it is asked for."""
        return self.defer("source")

    def update(self, **values: Any) -> NoReturn:
        """Refuse: a revision is never changed."""
        raise TypeError("A revision is never changed; make a new one.")


@kept
class TreeRevision(models.Model):
    """One state of a tree: the model exactly as it came, byte for byte, and who brought it."""

    KIND: ClassVar[str] = "tree_revision"
    version: ClassVar[int] = 1

    class Format(models.TextChoices):
        """How `source` is to be read."""

        OPEN_PSA = "open-psa", "Open-PSA exchange XML"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    format = models.CharField(max_length=20, choices=Format.choices)
    source = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    file_name = models.CharField(max_length=255, blank=True)
    note = models.CharField(max_length=500, blank=True)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="tree_revisions")
    created = models.DateTimeField(auto_now_add=True)
    gates = models.PositiveIntegerField()
    events = models.PositiveIntegerField()
    tops = models.JSONField()
    uses_mission_time = models.BooleanField()
    data_set = models.ForeignKey(
        "faulttree.DataSet", null=True, blank=True, on_delete=models.PROTECT, related_name="revisions"
    )
    """The newest data set of the library when it was saved; None where nothing was shared yet."""
    difference = models.JSONField(null=True, blank=True)
    """What is new against the revision before, for people to read; see faulttree/engine/editing/differences.py."""

    objects = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ("tree", "-number")
        constraints = (
            models.UniqueConstraint(fields=("tree", "number"), name="revision_number_once_per_tree"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="revision_number_from_1"),
        )

    def __str__(self) -> str:
        return f"{self.tree} · revision {self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new revision; refuse to write over one."""
        if not self._state.adding:
            raise TypeError("A revision is never changed; make a new one.")
        super().save(*args, **kwargs)

    def get_absolute_url(self) -> str:
        """The page of this revision."""
        return reverse("faulttree:revision", args=[self.tree_id, self.number])

    def content(self) -> dict[str, Any]:
        """Return what the ledger answers for: every column, the source by its SHA-256 as it is now, the transfers."""
        transfers = [[row.gate, row.target_id, row.top] for row in self.transfers.order_by("gate")]
        found = read_columns(self, "source") | {"source": hashlib.sha256(self.source).hexdigest()}
        return found | {"transfers": transfers} if transfers else found

    def content_hash(self) -> str:
        """Return the SHA-256 of the content."""
        return hash_canonical(self.content())


class Transfer(models.Model):
    """A gate of a revision that stands for a gate of another tree, at one revision of that: both stay as they are."""

    revision = models.ForeignKey(TreeRevision, on_delete=models.PROTECT, related_name="transfers")
    gate = models.CharField(max_length=200)
    target = models.ForeignKey(TreeRevision, on_delete=models.PROTECT, related_name="transferred_to")
    top = models.CharField(max_length=200)

    class Meta:
        ordering = ("revision", "gate")
        constraints = (models.UniqueConstraint(fields=("revision", "gate"), name="transfer_once_per_gate"),)

    def __str__(self) -> str:
        return f"{self.gate} -> {self.target}"
