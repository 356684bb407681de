"""Writes of trees and revisions."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from config.kit.errors import BadInput, Conflict
from config.kit.ledger import note_write
from config.kit.permissions import require
from faulttree.assembly import find_targets
from faulttree.bridge import (
    ModelFacts,
    assemble_model,
    convert_plain_json,
    describe_model,
    hash_bytes,
    is_plain_json,
    read_source,
)
from faulttree.engine.model import Model
from faulttree.models import DataSet, Tree, TreeRevision
from faulttree.reads.changes import Change, describe_next
from faulttree.services.transfers import store_transfers

NAME_TAKEN = "A tree of this name is already here. Choose another name, or open that tree and add a revision."
NO_GATE = "The file defines no gate, so there is no tree in it."
KEPT_AS_XML = ", kept as exchange XML"
"""Follows the name of a file that came as plain JSON: the source of a revision is always exchange XML."""
UNCHANGED = "This file is the same, byte for byte, as the newest revision."
SAYS_THE_SAME = "This file, written as exchange XML, is the same as the newest revision."


def import_tree(
    *, actor: User, source: bytes, file_name: str, name: str = "", label: str = "", note: str = ""
) -> TreeRevision:
    """Make a tree from a file in exchange XML or plain JSON, as its revision 1.

    name, label : taken from the file where empty
    Raises UnreadableModel with every problem of the file, BadInput for a name that is taken.
    """
    require(actor, "tree.import")
    stem = file_name.rsplit(".", 1)[0]
    source, file_name = _as_exchange_xml(source, file_name)
    facts, model = read_facts(source, file_name)
    name = (name or facts.name or stem).strip()[:200]
    try:
        with transaction.atomic():
            if Tree.objects.filter(name=name).exists():
                raise BadInput(NAME_TAKEN, code="name_taken", fields={"name": [NAME_TAKEN]})
            tree = Tree.objects.create(name=name, label=(label or facts.label).strip()[:300], owner=actor)
            return add_revision(tree, 1, source, file_name, facts, actor, note, model=model)
    except IntegrityError:
        raise BadInput(NAME_TAKEN, code="name_taken", fields={"name": [NAME_TAKEN]}) from None


def revise_tree(*, tree_id: int, actor: User, source: bytes, file_name: str, note: str = "") -> TreeRevision:
    """Add a revision to a tree from a file in exchange XML or plain JSON.

    Raises UnreadableModel, BadInput for a file that is the newest revision, Conflict if somebody was first.
    """
    require(actor, "tree.revise", Tree.objects.get(pk=tree_id))
    source, file_name = _as_exchange_xml(source, file_name)
    facts, model = read_facts(source, file_name)
    seen = TreeRevision.objects.filter(tree_id=tree_id).first()
    difference = None if seen and seen.sha256 == hash_bytes(source) else describe_next(seen, model)
    try:
        with transaction.atomic():
            tree = Tree.objects.select_for_update().get(pk=tree_id)
            require(actor, "tree.revise", tree)
            newest = tree.revisions.without_source().first()
            if newest and newest.sha256 == hash_bytes(source):
                message = SAYS_THE_SAME if file_name.endswith(KEPT_AS_XML) else UNCHANGED
                raise BadInput(message, code="unchanged", fields={"file": [message]})
            if seen != newest:  # somebody was first, so the difference is to theirs
                difference = describe_next(newest, model)
            return add_revision(
                tree, newest.number + 1 if newest else 1, source, file_name, facts, actor, note, difference, model=model
            )
    except IntegrityError:
        raise Conflict("Somebody added a revision at the same moment. Look at it, then try again.") from None


def _as_exchange_xml(source: bytes, file_name: str) -> tuple[bytes, str]:
    """Return a file as it will be kept, and what it is called then."""
    if not is_plain_json(source, file_name):
        return source, file_name
    return convert_plain_json(source, file=file_name), file_name[: 255 - len(KEPT_AS_XML)] + KEPT_AS_XML


def save_model(
    *, actor: User, tree_id: int | None, name: str, label: str, source: bytes, note: str = ""
) -> TreeRevision:
    """Make a tree, or a revision of one, from exchange XML that the bench wrote; in the caller's transaction.

    Raises BadInput for a name that is taken or a tree that isn't changed.
    """
    if tree_id is None:
        return import_tree(actor=actor, source=source, file_name=f"{name}.xml", name=name, label=label, note=note)
    return revise_tree(tree_id=tree_id, actor=actor, source=source, file_name=f"{name}.xml", note=note)


def read_facts(source: bytes, file_name: str) -> tuple[ModelFacts, Model]:
    """Return what a file in exchange XML holds; raises UnreadableModel, BadInput for one without a gate."""
    model = read_source(source, file=file_name)
    tree = model.containers[0].path[0] if model.containers else file_name
    facts = describe_model(assemble_model(model, hash_bytes(source), tree, DataSet.objects.newest()))
    if not facts.gates:
        raise BadInput(NO_GATE, code="no_gate", fields={"file": [NO_GATE]})
    return facts, model


def add_revision(
    tree: Tree,
    number: int,
    source: bytes,
    file_name: str,
    facts: ModelFacts,
    actor: User,
    note: str,
    difference: Change | None = None,
    *,
    model: Model,
) -> TreeRevision:
    """The revision is there, and the ledger says so; what is stored with a revision is stored before that."""
    revision = TreeRevision.objects.create(
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
        difference=difference,
        data_set=DataSet.objects.newest(),
    )
    targets = {gate: (target.pk, top) for gate, (target, top) in find_targets(model).items()}
    store_transfers(revision, targets)
    note_write(revision, actor=actor, action="tree_revision.import" if number == 1 else "tree_revision.revise")
    return revision
