"""Branches that become trees of their own."""

from __future__ import annotations

from dataclasses import replace

from django.contrib.auth.models import User
from django.db import transaction

from config.kit.errors import BadInput
from config.kit.permissions import require
from faulttree.documents import write_source
from faulttree.engine.editing.assemble import find_torn_groups, take_branch
from faulttree.engine.editing.complete import find_lacks
from faulttree.engine.editing.inputs import flatten
from faulttree.engine.exchange.names import NAME, NAME_RULE
from faulttree.engine.model import Container, Model
from faulttree.models import TreeRevision
from faulttree.services.trees import save_model


def split_off(*, actor: User, model: Model, gate: str, name: str, label: str = "") -> TreeRevision:
    """A gate and all that is below it is a tree of its own; the model itself stays as it is.

    Raises BadInput where a common-cause group would be torn apart, naming it.
    """
    require(actor, "tree.import")

    flat = flatten(model)
    if gate not in flat.gates:
        raise _refuse(f"There is no gate {gate}. Choose one that is there.", "gate")
    torn = find_torn_groups(flat, gate)
    if torn:
        groups = ", ".join(torn)
        message = f"Common-cause group {groups} has members below {gate} and elsewhere, and would be torn apart."
        raise _refuse(f"{message} Choose a gate over all of them, or remove the group first.", "gate")
    if not NAME.match(name):
        raise _refuse(f"“{name}” can't be a name. {NAME_RULE}", "name")
    branch = take_branch(flat, gate)
    lacks = find_lacks(branch)
    if lacks:
        raise _refuse(f"The branch isn't finished: {lacks[0].message} {lacks[0].mend}", "gate")
    title = label or branch.gates[gate].placing.label
    with transaction.atomic():
        return save_model(
            actor=actor, tree_id=None, name=name, label=title, source=write_source(_as_tree(branch, name, title))
        )


def _as_tree(branch: Model, name: str, label: str) -> Model:
    """Return a branch with its first container called like the tree."""
    return replace(branch, name=name, containers=branch.containers or (Container((name,), label=label),))


def _refuse(message: str, field: str) -> BadInput:
    return BadInput(message, code="edit_refused", fields={field: [message]})
