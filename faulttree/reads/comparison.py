"""The variants of a tree beside the tree itself: what each comes to, and where it isn't known yet.

What a run has computed with the same settings is taken from there. The rest is computed at once where that is
quick: SECONDS_EACH for one, SECONDS_IN_ALL for a page. What is left is shown as not computed yet.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.http import Http404
from django.shortcuts import get_object_or_404

from faulttree.bridge import (
    BadOverrides,
    Overrides,
    Request,
    check_overrides,
    hash_current,
    hash_request,
    parse_overrides,
    read_current,
    say_overrides,
    write_request,
)
from faulttree.engine.budget import Budget
from faulttree.engine.errors import EngineError
from faulttree.engine.quantify import quantify
from faulttree.engine.report import CAUTION as CAUTION
from faulttree.engine.report import to_json
from faulttree.models import Run, Tree, TreeRevision, Variant
from faulttree.services.runs import budget_of
from faulttree.services.variants import compared_request
from faulttree.states import RunState

SECONDS_EACH = 1.0
SECONDS_IN_ALL = 12.0
KEPT_SECONDS, SLOW_KEPT_SECONDS = 3600, 60
NODES_EACH = 400_000
BASE_NAME = "The tree as it stands"


@dataclass(frozen=True, slots=True)
class Setting:
    """What all that are compared have in common: top event, and the mission time in hours where none is overridden."""

    top: str
    mission_time: float | None


@dataclass(frozen=True)
class Row:
    """The tree as it stands, with `variant` None, or a variant beside it.

    state : "exact", "bracket", "waiting" (a run is on its way), "failed" (its run ended without an answer),
        "refused" (can't be computed with this revision; `problems` say why), "unknown" (not computed yet)
    ratio, difference : to the tree as it stands, (least, most); equal ends where both are exact, None where
        one isn't known or the ratio has no meaning
    share : of the likeliest cut set in the top event, (least, most)
    """

    variant: Variant | None
    words: tuple[str, ...]
    state: str
    problems: tuple[str, ...] = ()
    run: Run | None = None
    low: float | None = None
    high: float | None = None
    cut_sets: int | None = None
    all_cut_sets: bool = True
    likeliest: tuple[str, ...] | None = None
    share: tuple[float, float] | None = None
    ratio: tuple[float, float] | None = None
    difference: tuple[float, float] | None = None

    @property
    def name(self) -> str:
        """What it is called."""
        return self.variant.name if self.variant else BASE_NAME

    @property
    def is_known(self) -> bool:
        """There is a figure."""
        return self.low is not None

    @property
    def can_ask(self) -> bool:
        """A run would tell, or tell more exactly."""
        return self.state in ("unknown", "failed", "bracket")


def find_compared_revision(tree: Tree, number: str) -> TreeRevision:
    """Return the revision of this number, the newest where it is empty; raises Http404."""
    if not number:
        return get_object_or_404(tree.revisions.all()[:1])
    if not (number.isascii() and number.isdecimal() and len(number) < 8):
        raise Http404
    return get_object_or_404(tree.revisions, number=int(number))


def read_hours(text: str) -> float | None:
    """Return a mission time that somebody wrote; None for what is none."""
    try:
        hours = float(text)
    except ValueError:
        return None
    return hours if 0.0 <= hours < math.inf else None


def find_setting(revision: TreeRevision, top: str, hours: float | None) -> Setting:
    """Return what is asked for, else what the newest run of the tree as it stands was computed with."""
    run = revision.runs.without_overrides().exclude(state=RunState.FAILED).defer("result").first()
    known = run.request if run else {}
    if top not in revision.tops:
        top = str(known["top"] if known.get("top") in revision.tops else revision.tops[0])
    return Setting(top, known.get("mission_time") if hours is None else hours)


def compare(
    revision: TreeRevision, variants: Sequence[Variant], setting: Setting, *, seconds: float = SECONDS_IN_ALL
) -> list[Row]:
    """Return the tree as it stands, then each variant, in their order."""
    subjects: list[tuple[Variant | None, Overrides]] = [
        (None, Overrides()),
        *((variant, parse_overrides(variant.overrides)) for variant in variants),
    ]
    asked = [
        (variant, compared_request(setting.top, setting.mission_time, overrides)) for variant, overrides in subjects
    ]
    runs = _find_runs(revision, [request for _, request in asked])
    end = time.monotonic() + seconds
    rows = [
        _read_row(revision, variant, request, runs.get(_hash(revision, request)), end) for variant, request in asked
    ]
    return [rows[0], *(_beside(row, rows[0]) for row in rows[1:])]


def _hash(revision: TreeRevision, request: Request) -> str:
    return hash_request(revision.sha256, revision.pk, write_request(request, **budget_of()), hash_current(revision))


def _find_runs(revision: TreeRevision, requests: Sequence[Request]) -> dict[str, Run]:
    hashes = [_hash(revision, request) for request in requests]
    return {run.request_hash: run for run in revision.runs.filter(request_hash__in=hashes)}


def _read_row(revision: TreeRevision, variant: Variant | None, request: Request, run: Run | None, end: float) -> Row:
    row = Row(variant, say_overrides(request.overrides), "unknown", run=run)
    try:
        facts = check_overrides(read_current(revision), request.overrides)
    except BadOverrides as refused:
        return replace(row, state="refused", problems=tuple(refused.fields["overrides"]))
    hours = request.overrides.mission_time
    if facts.uses_mission_time and request.mission_time is None and hours is None:
        needed = "Its probabilities depend on the mission time: give it in hours above."
        return replace(row, state="refused", problems=(needed,))
    if run is not None and run.result is not None:
        return _with_figures(row, run.result)
    left = min(end - time.monotonic(), SECONDS_EACH)
    found = _compute(revision, request, left) if left > 0.1 else None
    if found is not None and (found["method"] == "exact" or run is None or not run.is_active):
        return _with_figures(row, found)
    if run is not None and run.is_active:
        return replace(row, state="waiting")
    if run is not None and run.state in (RunState.FAILED, RunState.CANCELLED):
        told = (run.error or {}).get("message", "Its run was cancelled.")
        return replace(row, state="failed", problems=(told,))
    return row


def _compute(revision: TreeRevision, request: Request, seconds: float) -> dict[str, Any] | None:
    """Return the answer, None when the budget gave none; it is kept for the next page, for long when it is exact."""
    quick = replace(request, list_count=1)
    key = f"compared-{_hash(revision, quick)}"
    kept: dict[str, Any] | None = cache.get(key)
    if kept is not None:
        return kept or None
    budget = Budget(nodes=NODES_EACH, seconds=seconds, memory_mib=settings.RUN_MEMORY_MIB)
    try:
        result = to_json(quantify(read_current(revision), quick, budget=budget))
    except EngineError:
        cache.set(key, {}, SLOW_KEPT_SECONDS)
        return None
    found = {name: result.get(name) for name in ("method", "probability", "lower", "upper", "cut_sets")}
    is_whole = found["method"] == "exact" and found["cut_sets"] is not None
    cache.set(key, found, KEPT_SECONDS if is_whole else SLOW_KEPT_SECONDS)
    return found


def _with_figures(row: Row, data: dict[str, Any]) -> Row:
    is_exact = data["method"] == "exact"
    low = data["probability"] if is_exact else data["lower"]
    high = data["probability"] if is_exact else data["upper"]
    cut_sets = data.get("cut_sets")
    likeliest, share = None, None
    if cut_sets and cut_sets["listed"]:
        first = cut_sets["listed"][0]
        likeliest = tuple(first["events"])
        if low > 0.0:
            share = (first["probability"] / high, min(first["probability"] / low, 1.0))
    return replace(
        row,
        state="exact" if is_exact else "bracket",
        low=low,
        high=high,
        cut_sets=cut_sets["count"] if cut_sets else None,
        all_cut_sets=bool(cut_sets and cut_sets.get("exact", True)),
        likeliest=likeliest,
        share=share,
    )


def _beside(row: Row, base: Row) -> Row:
    if row.low is None or row.high is None or base.low is None or base.high is None:
        return row
    ratio = (row.low / base.high, row.high / base.low) if base.low > 0.0 else None
    return replace(row, ratio=ratio, difference=(row.low - base.high, row.high - base.low))
