"""Effects that have become real: a revision of a tree that holds them."""

from __future__ import annotations

from collections.abc import Sequence

from django.contrib.auth.models import User
from django.db import transaction

from config.kit.errors import BadInput, Conflict
from config.kit.permissions import require
from faulttree.assembly import fill_shared
from faulttree.documents import write_source
from faulttree.engine.effects.apply import apply_effects
from faulttree.engine.effects.kinds import Effect
from faulttree.engine.errors import BadModel
from faulttree.models import DataSet, Tree, TreeRevision
from faulttree.services.trees import revise_tree
from faulttree.sources import read_own_model


@transaction.atomic
def adopt_effects(*, actor: User, tree_id: int, effects: Sequence[Effect], note: str) -> TreeRevision:
    """Return a new revision of the tree: its newest one with the effects.

    Events whose value changes leave the library with the value of today; the others stay shared. Raises Conflict where
    a target isn't in the tree itself (gone, or in another tree that it transfers to), BadInput for effects that can't
    be applied.
    """
    tree = Tree.objects.select_for_update().get(pk=tree_id)
    require(actor, "tree.revise", tree)
    newest = tree.revisions.select_related("tree").order_by("-number").first()
    if newest is None:
        raise Conflict(f"{tree.name} has no revision.", code="no_revision")
    model = read_own_model(newest)
    missing = sorted({each.target for each in effects} - {*model.basic_events, *model.gates})
    if missing:
        raise Conflict(
            f"Revision {newest.number} of {tree.name} doesn't have {', '.join(missing)} itself. Put it there, or take "
            "the effects into the tree that has it.",
            code="no_target",
        )
    try:
        changed = apply_effects(fill_shared(model, DataSet.objects.newest()), effects)
        source = write_source(changed)
    except BadModel as error:
        raise BadInput(str(error), code="no_effect") from None
    return revise_tree(tree_id=tree_id, actor=actor, source=source, file_name=f"{tree.name}.xml"[-255:], note=note)
