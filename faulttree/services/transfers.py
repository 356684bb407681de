"""Transfers between trees: kept with the revision they are in, refused where trees would go round in a circle."""

from __future__ import annotations

from collections.abc import Mapping

from config.kit.errors import BadInput
from faulttree.models import Transfer, TreeRevision


def store_transfers(revision: TreeRevision, targets: Mapping[str, tuple[int, str]]) -> None:
    """Each gate of the revision that stands for another tree's is kept with the revision it is to.

    targets : gate -> key of the target revision, gate there
    Raises BadInput for trees that would contain one another, with the whole way round. In the caller's transaction.
    """
    for gate, (target_id, top) in targets.items():
        target = TreeRevision.objects.without_source().select_related("tree").get(pk=target_id)
        path = _find_way(target, revision.tree_id)
        if path:
            way = " > ".join([revision.tree.name, *path])
            message = f"Gate {gate} would make the tree a part of itself: {way}. Break the circle at one of these."
            raise BadInput(message, code="circle", fields={"file": [message]})
        Transfer.objects.create(revision=revision, gate=gate, target=target, top=top)


def _find_way(revision: TreeRevision, tree_id: int) -> list[str]:
    """Return the trees from a revision down to a tree, empty where it isn't below."""
    if revision.tree_id == tree_id:
        return [revision.tree.name]
    rows = revision.transfers.select_related("target__tree").defer("target__source")
    for row in rows:
        way = _find_way(row.target, tree_id)
        if way:
            return [revision.tree.name, *way]
    return []
