"""Which trees a change of the library would move, and by how much, before it is made."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass

from faulttree.assembly import BadAssembly, Value, list_used, read_changed_model, read_model
from faulttree.bridge import describe_model
from faulttree.engine.budget import Budget
from faulttree.engine.editing.shared import Key
from faulttree.engine.errors import EngineError
from faulttree.engine.model import Model
from faulttree.engine.report import CAUTION as CAUTION
from faulttree.engine.top_figure import TopFigure, find_top_figure
from faulttree.models import DataSet, TreeRevision
from faulttree.reads.changes import find_mission_time
from faulttree.sources import UnreadableModel

SECONDS, NODES, MEMORY_MIB = 0.5, 400_000, 512
"""The budget of one figure; a tree has two, so it takes about a second at the most."""
TOO_MANY = "Not computed here: too many trees use it to compute all of them at once."
MOST_TREES = 20
SECONDS_IN_ALL = 20.0


@dataclass(frozen=True, slots=True)
class Moved:
    """One top event of one tree; `before` and `after` are None where `problem` says why there is no figure."""

    revision: TreeRevision
    top: str
    mission_time: float | None = None
    before: TopFigure | None = None
    after: TopFigure | None = None
    problem: str = ""

    @property
    def difference(self) -> float | None:
        """After less before; None unless both are exact."""
        pair = self._exact
        return pair[1] - pair[0] if pair else None

    @property
    def ratio(self) -> float | None:
        """After ÷ before; None unless both are exact and the first isn't 0."""
        pair = self._exact
        return pair[1] / pair[0] if pair and pair[0] else None

    @property
    def _exact(self) -> tuple[float, float] | None:
        if self.before is None or self.after is None:
            return None
        first, then = self.before.probability, self.after.probability
        return None if first is None or then is None else (first, then)


def find_users(keys: set[Key]) -> list[TreeRevision]:
    """Return the newest revisions of the trees that use one of the items, also by way of other items or trees."""
    newest = DataSet.objects.newest()
    return [revision for revision in list_candidates() if keys & set(list_used(revision, newest))]


def count_users() -> dict[Key, int]:
    """Return for each item by how many trees it is used, also by way of other items or trees."""
    newest, counts = DataSet.objects.newest(), dict[Key, int]()
    for revision in list_candidates():
        for key in list_used(revision, newest):
            counts[key] = counts.get(key, 0) + 1
    return counts


def list_candidates() -> list[TreeRevision]:
    """Return the newest revision of every tree that may use the library, by name of the tree.

    A file that holds neither word can't have the attributes; reading it would take time for nothing.
    """
    rows = TreeRevision.objects.select_related("tree").order_by("tree__name", "tree_id", "-number")
    found, seen = [], set[int]()
    for row in rows.without_source():
        if row.tree_id in seen:
            continue
        seen.add(row.tree_id)
        source = bytes(row.source)
        if b"library" in source or b"transfer" in source:
            found.append(row)
    return found


def find_movement(changes: Mapping[Key, Value]) -> list[Moved]:
    """Return every top event of every tree that uses one of the items, before and after the change."""
    newest = DataSet.objects.newest()
    end = time.monotonic() + SECONDS_IN_ALL
    found: list[Moved] = []
    for place, revision in enumerate(find_users(set(changes))):
        if place >= MOST_TREES or time.monotonic() > end:
            found.append(Moved(revision, "", problem=TOO_MANY))
            continue
        found += _compare(revision, newest, changes)
    return found


def _compare(revision: TreeRevision, newest: DataSet | None, changes: Mapping[Key, Value]) -> list[Moved]:
    hours = find_mission_time(revision)
    try:
        before, after = read_model(revision, newest), read_changed_model(revision, newest, changes)
    except (BadAssembly, UnreadableModel) as refused:
        return [Moved(revision, "", hours, problem=f"It couldn't be computed any more: {refused.message}")]
    timed = describe_model(before).uses_mission_time or describe_model(after).uses_mission_time
    if timed and hours is None:
        told = "Not computed here: it depends on the mission time, and no run of the tree says one."
        return [Moved(revision, top, problem=told) for top in revision.tops]
    return [_compare_top(revision, str(top), hours if timed else None, before, after) for top in revision.tops]


def _compare_top(revision: TreeRevision, top: str, hours: float | None, before: Model, after: Model) -> Moved:
    budget = Budget(NODES, SECONDS / max(len(revision.tops), 1), MEMORY_MIB)
    try:
        first = find_top_figure(before, top, hours, budget=budget)
        then = find_top_figure(after, top, hours, budget=budget)
    except (EngineError, MemoryError) as error:
        return Moved(revision, top, hours, problem=f"Not computed here: {error}")
    return Moved(revision, top, hours, first, then)
