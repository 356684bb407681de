"""The answer as plain data, for JSON."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from faulttree.engine.exchange.json_overrides import write_overrides
from faulttree.engine.results import CutSets, Quantification

CAUTION = (
    "Decision support only: the figures hold under the listed assumptions and for the tree as drawn. "
    "The programme's safety authority and licensed practice decide."
)

DRIVER_MEASURES = {
    "rank_correlation": "rank-based: Spearman's correlation with the top-event probability, 95 % interval",
    "variance_share": "variance-based: first-order share of the variance, given-data estimate by neighbours in rank, "
    "biased a little downwards, less so with more samples; standard error by a jackknife",
}
"""What the figures of the drivers are; beside them in every answer."""


def to_json(result: Quantification) -> dict[str, Any]:
    """Return a dictionary of JSON values; infinite ratios become None, as JSON has no infinity.

    `probability` stands there for an exact result, `lower` and `upper` for a bracket; `overrides` only where
    something was different from the model.
    """
    data: dict[str, Any] = {
        name: getattr(result, name)
        for name in ("tree", "top", "mission_time", "coherent", "events", "gates", "modules", "method")
    }
    if result.overrides:
        data["overrides"] = write_overrides(result.overrides)
    if result.method == "exact":
        data["probability"] = result.probability
    else:
        data["lower"], data["upper"] = result.lower, result.upper
    data["rare_event"] = result.rare_event
    data["min_cut_upper_bound"] = result.min_cut_upper_bound
    data["cut_sets"] = _cut_sets(result.cut_sets)
    data["importance"] = {
        event: {name: _finite(value) for name, value in asdict(measures).items()}
        for event, measures in result.importance.items()
    }
    if result.prime_implicants is not None:
        data["prime_implicants"] = _cut_sets(result.prime_implicants)
    if result.time is not None:
        data["time"] = [asdict(point) for point in result.time.points]
        data["average_probability"] = result.time.average_probability
        data["expected_failures"] = result.time.expected_failures
    if result.uncertainty is not None:
        data["uncertainty"] = asdict(result.uncertainty)
        edges, counts = result.uncertainty.histogram
        data["uncertainty"]["driver_measures"] = DRIVER_MEASURES
        data["uncertainty"]["histogram"] = {"edges": list(edges), "counts": list(counts)}
    if result.diagnosis is not None:
        data["posterior"] = result.diagnosis.posterior
        data["evidence_probability"] = result.diagnosis.evidence_probability
    data["notes"] = list(result.notes)
    data["caution"] = CAUTION
    data["seconds"] = result.seconds
    data["peak_memory_mib"] = result.peak_memory_mib
    return data


def _cut_sets(cut_sets: CutSets | None) -> dict[str, Any] | None:
    if cut_sets is None:
        return None
    return {
        "count": cut_sets.count,
        "exact": cut_sets.exact,
        "by_order": {str(order): count for order, count in cut_sets.by_order.items()},
        "listed": [
            {"events": list(cut.events), "order": cut.order, "probability": cut.probability} for cut in cut_sets.listed
        ],
    }


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
