"""What other apps may ask of fault trees; the only module of this app they import."""

from __future__ import annotations

from faulttree.bridge import read_model
from faulttree.models import Tree, TreeRevision
from faulttree.models.tree import TreeQuerySet


def tree_has_event(tree_id: int, code: str) -> bool:
    """Tell whether the newest revision of the tree has a basic event of this name."""
    newest = TreeRevision.objects.filter(tree_id=tree_id).order_by("-number").first()
    return newest is not None and code in read_model(newest).basic_events


def list_trees() -> TreeQuerySet:
    """Return all trees, by name, for a choice in a form."""
    return Tree.objects.order_by("name")
