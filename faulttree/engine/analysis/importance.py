"""Importance measures of basic events, each from its definition; see engine/README.md for sources."""

from __future__ import annotations

import math

from faulttree.engine.analysis.probability import Vector
from faulttree.engine.results import Importance


def measure_importance(
    p: Vector,
    top: float,
    given_true: Vector,
    given_false: Vector,
    cut_unions: list[float | None],
    rare_event: float | None,
    rare_event_by_event: Vector | None,
) -> list[Importance]:
    """Return the measures of every event.

    p : float64[V] event probabilities; top : P(top)
    given_true, given_false : float64[V], P(top | event occurred) = P1 and P(top | it did not) = P0
    cut_unions : probability of the union of the minimal cut sets with the event
    rare_event, rare_event_by_event : sum over all minimal cut sets and its derivative by each event
    """
    measures = []
    for v in range(len(p)):
        p_v, one, zero = float(p[v]), float(given_true[v]), float(given_false[v])
        union, share = cut_unions[v], None
        if rare_event is not None and rare_event_by_event is not None:
            share = _ratio(float(rare_event_by_event[v]) * p_v, rare_event)
        measures.append(
            Importance(
                birnbaum=one - zero,
                criticality=_ratio((one - zero) * p_v, top),
                fussell_vesely_union=None if union is None else _ratio(union, top),
                fussell_vesely_rare_event=share,
                risk_achievement_worth=_ratio(one, top),
                risk_reduction_worth=_ratio(top, zero),
                diagnostic=min(1.0, _ratio(one * p_v, top)),
            )
        )
    return measures


def _ratio(a: float, b: float) -> float:
    """a/b; 0/0 gives 0 for want of anything to measure, a/0 is infinite."""
    if b != 0.0:
        return a / b
    return 0.0 if a == 0.0 else math.inf
