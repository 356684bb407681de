"""Writes of trees and revisions."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from config.kit.errors import BadInput, Conflict
from config.kit.permissions import require
from faulttree.bridge import ModelFacts, describe_model, hash_bytes, read_source
from faulttree.models import Tree, TreeRevision

NAME_TAKEN = "A tree of this name is already here. Choose another name, or open that tree and add a revision."
NO_GATE = "The file defines no gate, so there is no tree in it."
UNCHANGED = "This file is the same, byte for byte, as the newest revision."


def import_tree(
    *, actor: User, source: bytes, file_name: str, name: str = "", label: str = "", note: str = ""
) -> TreeRevision:
    """Make a tree from a file in exchange XML, as its revision 1.

    name, label : taken from the file where empty
    Raises UnreadableModel with every problem of the file, BadInput for a name that is taken.
    """
    require(actor, "tree.import")
    facts = _read_facts(source, file_name)
    name = (name or facts.name or file_name.rsplit(".", 1)[0]).strip()[:200]
    try:
        with transaction.atomic():
            if Tree.objects.filter(name=name).exists():
                raise BadInput(NAME_TAKEN, code="name_taken", fields={"name": [NAME_TAKEN]})
            tree = Tree.objects.create(name=name, label=(label or facts.label).strip()[:300], owner=actor)
            return _add(tree, 1, source, file_name, facts, actor, note)
    except IntegrityError:
        raise BadInput(NAME_TAKEN, code="name_taken", fields={"name": [NAME_TAKEN]}) from None


def revise_tree(*, tree_id: int, actor: User, source: bytes, file_name: str, note: str = "") -> TreeRevision:
    """Add a revision to a tree from a file in exchange XML.

    Raises UnreadableModel, BadInput for a file that is the newest revision, Conflict if somebody was first.
    """
    facts = _read_facts(source, file_name)
    try:
        with transaction.atomic():
            tree = Tree.objects.select_for_update().get(pk=tree_id)
            require(actor, "tree.revise", tree)
            newest = tree.revisions.without_source().first()
            if newest and newest.sha256 == hash_bytes(source):
                raise BadInput(UNCHANGED, code="unchanged", fields={"file": [UNCHANGED]})
            return _add(tree, newest.number + 1 if newest else 1, source, file_name, facts, actor, note)
    except IntegrityError:
        raise Conflict("Somebody added a revision at the same moment. Look at it, then try again.") from None


def _read_facts(source: bytes, file_name: str) -> ModelFacts:
    facts = describe_model(read_source(source, file=file_name))
    if not facts.gates:
        raise BadInput(NO_GATE, code="no_gate", fields={"file": [NO_GATE]})
    return facts


def _add(
    tree: Tree, number: int, source: bytes, file_name: str, facts: ModelFacts, actor: User, note: str
) -> TreeRevision:
    return TreeRevision.objects.create(
        tree=tree,
        number=number,
        format=TreeRevision.Format.OPEN_PSA,
        source=source,
        sha256=hash_bytes(source),
        file_name=file_name[:255],
        note=note.strip()[:500],
        author=actor,
        gates=facts.gates,
        events=facts.events,
        tops=list(facts.tops),
        uses_mission_time=facts.uses_mission_time,
    )
