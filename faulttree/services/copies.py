"""Copies of trees: a tree of its own from a revision of another, so that both can go on changing."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from config.kit.permissions import require
from faulttree.models import Tree, TreeRevision
from faulttree.services.trees import add_revision, read_facts

LONGEST_NAME = 200


@transaction.atomic
def copy_tree(*, actor: User, revision_id: int, name: str, label: str = "") -> TreeRevision:
    """Return revision 1 of a new tree: the revision, byte for byte; what it shares with the library stays shared.

    name : a number follows where it is taken
    The caller's own rule says who may have a copy made; to see the tree is asked for here.
    """
    origin = TreeRevision.objects.select_related("tree").get(pk=revision_id)
    require(actor, "tree.view", origin.tree)
    source = bytes(origin.source)
    facts, model = read_facts(source, origin.file_name)
    tree = Tree.objects.create(
        name=_find_free(name), label=(label or str(origin.tree))[:300], owner=actor, origin=origin
    )
    note = f"Copied from {origin.tree.name}, revision {origin.number}."
    return add_revision(tree, 1, source, origin.file_name, facts, actor, note, model=model)


def _find_free(name: str) -> str:
    name = name.strip()[: LONGEST_NAME - 4]
    taken = set(Tree.objects.filter(name__startswith=name).values_list("name", flat=True))
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}-{number}"
    return free
