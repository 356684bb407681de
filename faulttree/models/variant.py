"""A variant: a named set of overrides of a tree, compared with the tree as it stands."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from config.kit.canonical import hash_canonical
from config.kit.ledger import kept, read_columns
from config.kit.permissions import Actor, allows
from faulttree.models.tree import Tree


class VariantQuerySet(models.QuerySet["Variant"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> VariantQuerySet:
        """All variants for those who may see trees, none for the others."""
        return self if allows(actor, "tree.view") else self.none()


@kept
class Variant(models.Model):
    """What is different, and why; it holds for whichever revision of the tree it is computed with."""

    KIND: ClassVar[str] = "variant"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="variants")
    name = models.CharField(max_length=120)
    note = models.CharField(max_length=500, blank=True)
    overrides = models.JSONField()
    """See faulttree/engine/overrides.py for its shape."""
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="variants")
    version = models.PositiveIntegerField(default=1)
    created = models.DateTimeField(auto_now_add=True)
    changed = models.DateTimeField(auto_now=True)

    objects = VariantQuerySet.as_manager()

    class Meta:
        ordering = ("tree", "name")
        constraints = (models.UniqueConstraint(fields=("tree", "name"), name="variant_name_once_per_tree"),)

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The comparison of the tree's variants."""
        return reverse("faulttree:variants", args=[self.tree_id])

    def content(self) -> dict[str, Any]:
        """Return what the ledger answers for: every column."""
        return read_columns(self)

    def content_hash(self) -> str:
        """Return the SHA-256 of the content."""
        return hash_canonical(self.content())
