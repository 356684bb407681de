"""What a revision changed: the differences in words, and what they did to the probability of the top events."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from faulttree.bridge import UnreadableModel, describe_model
from faulttree.engine.budget import Budget
from faulttree.engine.editing.differences import find_differences
from faulttree.engine.editing.marks import is_transfer
from faulttree.engine.editing.renames import find_renames
from faulttree.engine.errors import EngineError
from faulttree.engine.model import Model
from faulttree.engine.top_figure import TopFigure, find_top_figure
from faulttree.engine.validate import find_tops
from faulttree.models import Run, TreeRevision
from faulttree.reads.boxes import Box
from faulttree.sources import read_own_model

SECONDS, NODES, MEMORY_MIB = 0.6, 500_000, 512
"""The budget of one figure: a person waits for it, and saving a draft holds a lock meanwhile."""
MOST_TOPS = 3
MOST_KEPT = 500
"""Differences that a revision's row keeps; its page compares anew and shows them all."""

Change = dict[str, Any]


def describe_change(before: Model, after: Model, mission_time: float | None) -> Change:
    """Return {"changes", "tops", "notes", "mission_time", "count"} of two states of a tree, as JSON can hold it.

    changes : a Difference each, as `to_plain` writes it; `count` is how many
    tops : {"top", "was", "before", "after", "method"} each; before and after are a TopFigure as `to_plain` writes it,
        None where there is no figure; method is "exact" only where both are
    notes : whole sentences on what isn't computed, and why
    mission_time : hours, None where neither state depends on it or none is known
    """
    changes = [difference.to_plain() for difference in find_differences(before, after)]
    notes: list[str] = []
    timed = _depends_on_time(before) or _depends_on_time(after)
    tops: list[dict[str, Any]] = []
    if timed and mission_time is None:
        notes.append("The effect on the top event isn't computed: it depends on the mission time, and no run says one.")
    else:
        tops = _compare_tops(before, after, mission_time if timed else None, notes)
    hours = mission_time if timed else None
    return {"changes": changes, "tops": tops, "notes": notes, "mission_time": hours, "count": len(changes)}


def shorten(change: Change) -> Change:
    """Return what a row keeps: the first MOST_KEPT differences, and a note where there are more."""
    count = change["count"]
    if count <= MOST_KEPT:
        return change
    note = f"The first {MOST_KEPT:,} of {count:,} differences are kept here; the page of the changes shows all."
    return {**change, "changes": change["changes"][:MOST_KEPT], "notes": [*change["notes"], note]}


def describe_next(newest: TreeRevision | None, after: Model) -> Change | None:
    """Return what a row of the revision after `newest` keeps; None for the first, or where `newest` can't be read."""
    if newest is None:
        return None
    try:
        before = read_own_model(newest)
    except UnreadableModel:  # taken in under wider limits; no reason to refuse what comes after it
        return None
    return shorten(describe_change(before, after, find_mission_time(newest)))


def find_mission_time(revision: TreeRevision) -> float | None:
    """Return the mission time of a revision's newest run, hours; None without one."""
    run = Run.objects.filter(revision=revision).without_result().without_overrides().first()
    return run.request.get("mission_time") if run else None


def read_change(before: TreeRevision, after: TreeRevision) -> Change:
    """Return what is different from one revision of a tree to another, at the mission time of a run of either."""
    hours = find_mission_time(before)
    hours = find_mission_time(after) if hours is None else hours
    return _between(before.sha256, after.sha256, hours, Box((before, after)))


@lru_cache(maxsize=16)
def _between(before: str, after: str, hours: float | None, box: Box[tuple[TreeRevision, TreeRevision]]) -> Change:
    return describe_change(read_own_model(box.value[0]), read_own_model(box.value[1]), hours)


def _depends_on_time(model: Model) -> bool:
    return describe_model(model).uses_mission_time


def _compare_tops(before: Model, after: Model, hours: float | None, notes: list[str]) -> list[dict[str, Any]]:
    renamed = find_renames(before, after).elements
    old = {renamed.get(top, top): top for top in find_tops(before)}
    tops = list(dict.fromkeys([*find_tops(after), *old]))
    for model, which in ((before, "before"), (after, "afterwards")):
        transfers = [gate.name for gate in model.gates.values() if is_transfer(gate)]
        if transfers:
            notes.append(f"Transfers count as not occurring {which}: {', '.join(transfers)}.")
    if len(tops) > MOST_TOPS:
        notes.append(f"Figures are given for the first {MOST_TOPS} of {len(tops)} top events.")
    return [_compare_top(before, after, top, old.get(top, ""), hours, notes) for top in tops[:MOST_TOPS]]


def _compare_top(
    before: Model, after: Model, top: str, was: str, hours: float | None, notes: list[str]
) -> dict[str, Any]:
    first = _figure(before, was, hours, notes, "before") if was else None
    then = _figure(after, top, hours, notes, "afterwards") if top in find_tops(after) else None
    exact = all(figure.method == "exact" for figure in (first, then) if figure)
    return {
        "top": top,
        "was": was,
        "before": first.to_plain() if first else None,
        "after": then.to_plain() if then else None,
        "method": "exact" if exact else "bracket",
    }


def _figure(model: Model, top: str, hours: float | None, notes: list[str], which: str) -> TopFigure | None:
    try:
        return find_top_figure(model, top, hours, budget=Budget(NODES, SECONDS, MEMORY_MIB))
    except (EngineError, MemoryError) as error:
        notes.append(f"{top} isn't computed as it is {which}: {error}")
        return None


def find_ratio(top: Mapping[str, Any]) -> float | None:
    """Return after ÷ before where both are exact and the first isn't 0."""
    before, after = top["before"], top["after"]
    if not before or not after or not before["probability"] or after["probability"] is None:
        return None
    return float(after["probability"] / before["probability"])
