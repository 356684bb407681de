"""The list of trees, with what the newest run of each says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import OuterRef, Prefetch, Subquery

from config.kit.permissions import Actor
from faulttree.models import Run, Tree, TreeRevision
from faulttree.models.tree import TreeQuerySet
from faulttree.states import RunState

HEADER = (
    *("name", "label", "revision", "saved at", "owner", "gates", "events"),
    *("run", "method", "top-event probability", "at least", "at most", "minimal cut sets", "all cut sets counted"),
)


@dataclass(frozen=True, slots=True)
class TreeRow:
    """One line of the list: the newest revision, and its newest run that is done, else its newest run."""

    tree: Tree
    revision: TreeRevision
    run: Run | None

    @property
    def headline(self) -> dict[str, Any]:
        """The figures to show; empty where nothing is done yet."""
        return (self.run.headline if self.run else None) or {}


def write_row(row: TreeRow) -> list[Any]:
    """Return the cells of HEADER: a bracket has its two ends, and no probability."""
    figures = row.headline
    return [
        row.tree.name,
        row.tree.label,
        row.revision.number,
        row.revision.created,
        row.tree.owner.username,
        row.revision.gates,
        row.revision.events,
        row.run.get_state_display() if row.run else "not computed",
        *(figures.get(name) for name in ("method", "probability", "lower", "upper", "cut_sets", "all_cut_sets")),
    ]


def find_trees(actor: Actor, words: str) -> TreeQuerySet:
    """Return the trees the actor may see that hold the words, in order of name."""
    newest = TreeRevision.objects.filter(tree=OuterRef("pk")).order_by("-number").values("pk")[:1]
    found: TreeQuerySet = Tree.objects.visible_to(actor).matching(words).select_related("owner")
    return found.annotate(newest_revision=Subquery(newest))


def read_rows(trees: list[Tree]) -> list[TreeRow]:
    """Return the lines of some trees; three queries whatever their number."""
    ids = [tree.newest_revision for tree in trees]  # type: ignore[attr-defined]
    runs = Run.objects.without_overrides().without_result().order_by("-created", "-pk")
    revisions = (
        TreeRevision.objects.without_source()
        .filter(pk__in=ids)
        .prefetch_related(Prefetch("runs", queryset=runs, to_attr="newest_runs"))
        .in_bulk()
    )
    return [_row(tree, revisions[tree.newest_revision]) for tree in trees]  # type: ignore[attr-defined]


def _row(tree: Tree, revision: TreeRevision) -> TreeRow:
    runs: list[Run] = revision.newest_runs  # type: ignore[attr-defined]
    done = next((run for run in runs if run.state == RunState.DONE), None)
    return TreeRow(tree, revision, done or (runs[0] if runs else None))
