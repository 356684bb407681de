"""A certified interval for the top-event probability from its likeliest cut sets.

Bottom-up, every gate keeps a family of cut sets and a bound on the probability that it is true
though none of the kept ones is. The bounds add up to one at the top. Cut-offs get finer until the
interval is tight or the budget is spent. A tree with negations is enclosed between two without.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.netlist import TRUE, Netlist
from faulttree.engine.logic.polarity import is_plainly_monotone
from faulttree.engine.logic.simplify import simplify
from faulttree.engine.truncation.positive import drop_negations, negated_variables
from faulttree.engine.truncation.refinement import Interval, Refinement, Wanted

ROUNDING = 1e-9  # widening of both ends, far above the rounding of any sum here
FIRST_MARGIN, MARGIN_STEP, LAST_MARGIN = 4, 4, 80  # weight allowed above the lightest cut set
LEAST_SECONDS = 2.0  # even when the budget is spent, a first interval is worth this
GOOD_ENOUGH = 1e-6  # relative width at which refining stops
SLOW, PATIENCE = 0.98, 3  # passes that narrow the interval by less than this are idle; so many in a row end it


@dataclass(frozen=True)
class Bracket:
    """lower <= P(top) <= upper, and the minimal cut sets behind it.

    cut_sets : variables of the likeliest kept minimal cut sets with their probabilities
    kept_count, by_order : how many minimal cut sets were kept
    """

    lower: float
    upper: float
    cut_sets: list[tuple[tuple[int, ...], float]]
    kept_count: int
    by_order: dict[int, int]
    note: str


def bracket(netlist: Netlist, p: NDArray[np.float64], watch: Watch, wanted: Wanted) -> Bracket:
    """Return the tightest interval found within what is left of the budget.

    p : float64[V]. Never fails for want of time or memory: the first, crude interval needs next to
    nothing. Raises Cancelled when asked to stop.
    """
    left = np.inf if watch.budget.seconds is None else watch.budget.seconds - watch.elapsed()
    left = max(LEAST_SECONDS, left)
    if is_plainly_monotone(netlist):
        found = _enclose(netlist, p, _limited(watch, left), wanted)
        return _widen(found, _NOTE + " " + _depth(found))
    above = _enclose(drop_negations(netlist), p, _limited(watch, left / 2), Wanted())
    negated = negated_variables(netlist)
    below = _enclose(drop_negations(netlist, negated), p, _limited(watch, left / 2), Wanted())
    none_occurs = float(np.prod([1.0 - p[v] for v in negated]))
    found = replace(above, lower=below.lower * none_occurs, cut_sets=[], kept_count=0, by_order={})
    return _widen(found, _NOTE + _NOTE_NEGATIONS)


_NOTE = (
    "The bracket is certified: it holds the probability of every cut set kept and a bound on all that were left out."
)
_NOTE_NEGATIONS = (
    " The tree has negations: the upper end ignores what must not occur, the lower end counts only the case in which "
    "none of the negated events occurs, and cut sets are not listed."
)


def _depth(found: Interval) -> str:
    if not found.kept_count:
        return "Only bounds gate by gate were reached."
    return f"Minimal cut sets were kept down to a probability of about {found.cut_off:.0e}."


def _limited(watch: Watch, seconds: float) -> Watch:
    limit = None if not np.isfinite(seconds) else watch.elapsed() + seconds
    return replace(watch, budget=replace(watch.budget, seconds=limit))


def _widen(found: Interval, note: str) -> Bracket:
    lower, upper = found.lower * (1.0 - ROUNDING), min(1.0, found.upper * (1.0 + ROUNDING))
    return Bracket(lower, upper, found.cut_sets, found.kept_count, found.by_order, note)


def _enclose(netlist: Netlist, p: NDArray[np.float64], watch: Watch, wanted: Wanted) -> Interval:
    """Interval of a monotone netlist, refined until tight or out of budget."""
    work = simplify(netlist)
    if work.root < 0:
        value = float(work.root == TRUE)
        return Interval(value, value)
    refinement = Refinement(work, p, watch, wanted)
    best = Interval(0.0, refinement.crude_upper())
    idle = 0
    for margin in range(FIRST_MARGIN, LAST_MARGIN, MARGIN_STEP):
        try:
            found = refinement.refine(margin)
        except LimitReached:
            break
        width = best.upper - best.lower
        best = replace(found, lower=max(best.lower, found.lower), upper=min(best.upper, found.upper))
        idle = idle + 1 if best.upper - best.lower > SLOW * width else 0
        if idle == PATIENCE:
            break
        if best.upper - best.lower <= GOOD_ENOUGH * best.upper:
            break
    return best
