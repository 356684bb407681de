"""What is new or changed in a revision against the one before, by element of the drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from faulttree.bridge import read_model
from faulttree.drawing.shades import Change
from faulttree.engine.editing.differences import Difference, find_differences
from faulttree.engine.editing.values import find_parameter_users
from faulttree.engine.model import Model
from faulttree.models import TreeRevision

ELEMENTS = ("gate", "basic event", "house event")


@dataclass(frozen=True)
class Changes:
    """Marks of the drawing by name, and every difference as a sentence."""

    since: int
    marks: Mapping[str, Change]
    differences: tuple[Difference, ...]


def read_changes(revision: TreeRevision) -> Changes | None:
    """Return what changed since the revision before; None for the first one.

    An event is changed too where a parameter of its expression is, a member where its common-cause group is.
    What is gone can't be marked in a drawing; its sentence says so.
    """
    before = (
        TreeRevision.objects.filter(tree_id=revision.tree_id, number__lt=revision.number).order_by("-number").first()
    )
    if before is None:
        return None
    model = read_model(revision)
    found = find_differences(read_model(before), model)
    marks: dict[str, Change] = {}
    for difference in found:
        for name in _touched(model, difference):
            marks.setdefault(name, "changed")
        if difference.kind in ELEMENTS and difference.what != "removed":
            marks[difference.name] = "new" if difference.what == "added" else "changed"
    return Changes(before.number, marks, found)


def _touched(model: Model, difference: Difference) -> set[str]:
    """Names of the events that are different because a parameter or a group is."""
    if difference.kind == "common-cause group":
        group = model.common_cause_groups.get(difference.name)
        return set(group.members) if group else set()
    if difference.kind != "parameter" or difference.what == "removed":
        return set()
    events: set[str] = set()
    waiting, seen = [difference.name], {difference.name}
    while waiting:
        for user in find_parameter_users(model, waiting.pop()):
            if user in model.basic_events:
                events.add(user)
            if user in model.common_cause_groups:
                events.update(model.common_cause_groups[user].members)
            if user in model.parameters and user not in seen:
                seen.add(user)
                waiting.append(user)
    return events
