"""Two revisions of a tree side by side, as the page and the interface for programs show them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.shortcuts import get_object_or_404

from config.kit.addresses import read_key
from faulttree.engine.editing.differences import Difference
from faulttree.engine.report import CAUTION
from faulttree.models import TreeRevision
from faulttree.reads.changes import Change, read_change


@dataclass
class Comparison:
    """From the revision `against` to `revision`; `against` is None where there is nothing before the first."""

    revision: TreeRevision
    against: TreeRevision | None
    change: Change | None
    others: list[TreeRevision] = field(default_factory=list)
    caution: str = CAUTION

    @cached_property
    def changes(self) -> list[Difference]:
        """What is different, from the top of the tree down."""
        return [Difference.from_plain(plain) for plain in self.change["changes"]] if self.change else []

    @property
    def tops(self) -> list[dict[str, Any]]:
        """The effect on the top events."""
        return self.change["tops"] if self.change else []

    @property
    def notes(self) -> list[str]:
        """What isn't computed, and why."""
        return self.change["notes"] if self.change else []

    @property
    def mission_time(self) -> float | None:
        """Of the figures, hours."""
        return self.change["mission_time"] if self.change else None


def read_comparison(revision: TreeRevision, against: str = "") -> Comparison:
    """Return a revision compared with another, the one before it unless `against` is the number of one.

    Raises Http404 for a number that the tree doesn't have, UnreadableModel for a file that can't be read any more.
    """
    siblings = revision.tree.revisions.without_source().defer("difference", "source")
    others = list(siblings.exclude(pk=revision.pk).select_related("author"))
    other: TreeRevision | None
    if against:
        key = read_key({"against": against}, "against")
        other = get_object_or_404(revision.tree.revisions.all(), number=key or 0)
    else:
        other = revision.tree.revisions.filter(number__lt=revision.number).first()
    return Comparison(revision, other, read_change(other, revision) if other else None, others)
