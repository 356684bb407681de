"""Parameters learnt from what was seen of a gate: so many occurrences in so many demands.

By importance sampling: parameters are drawn from what the tree says of them, shared ones once, and each draw is
weighted by the likelihood of what was seen. Source: NASA/SP-2009-569 for inference from system-level data; Kong 1992
for the effective number of samples (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from faulttree.engine.analysis.probability import evaluate_batch
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams.solution import solve
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.sampling import Sampling, Source
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.model import Model
from faulttree.engine.validate import choose_top

Values = NDArray[np.float64]

BLOCK = 5_000
LEAST_EFFECTIVE = 400.0
Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Learnt:
    """A deviate, or the gate itself, before and after.

    owner, place : as "parameter X" or "basic event Y", and which of its deviates, from 1; "gate G" for the gate
    mean, p05, p50, p95 : of the posterior; `error` is the Monte Carlo standard error of the mean, `p95_range` the 95 %
        interval of the 95th percentile
    """

    owner: str
    place: int
    prior_mean: float
    prior_p05: float
    prior_p95: float
    mean: float
    p05: float
    p50: float
    p95: float
    error: float
    p95_range: tuple[float, float]


@dataclass(frozen=True)
class Inference:
    """What was learnt; empty, with a note, where too few samples fit what was seen."""

    learnt: tuple[Learnt, ...]
    samples: int
    effective: float
    notes: tuple[str, ...]

    @property
    def usable(self) -> bool:
        """Enough samples fit what was seen."""
        return self.effective >= LEAST_EFFECTIVE


def infer_through_tree(
    model: Model,
    gate: str,
    count: int,
    demands: int,
    *,
    mission_time: float | None = None,
    samples: int = 50_000,
    seed: int = 1,
    budget: Budget | None = None,
) -> Inference:
    """Return what `count` occurrences of a gate in `demands` say of every parameter below it.

    Demands are independent given the parameters (binomial). mission_time : hours. Raises BadModel, LimitReached.
    """
    if not 0 <= count <= demands or demands < 1:
        message = f"{count} occurrences in {demands} demands."
        raise BadModel(Problem(message, "Give 0 or more occurrences, in at least as many demands.", "data"))
    watch = Watch(budget or Budget())
    expanded = expand_common_cause(model)
    netlist = compile_model(expanded, choose_top(expanded, gate))
    table = EventTable(expanded, netlist.variables)
    if not table.is_uncertain:
        message = f"No parameter below {gate} is uncertain, so nothing can be learnt."
        raise BadModel(Problem(message, "Give parameters a distribution.", gate))
    solution = solve(netlist, watch)
    tops: list[Values] = []
    drawn: dict[Source, list[Values]] = {}
    whole = Sampling(samples, seed, "latin-hypercube", 0, samples)
    for start in range(0, samples, BLOCK):
        watch.check()
        part = table.sample(mission_time, replace(whole, start=start, stop=min(start + BLOCK, samples)))
        tops.append(evaluate_batch(solution, part.probability))
        for source, values in part.drawn.items():
            drawn.setdefault(source, []).append(values)
    q = np.concatenate(tops)
    weight = _weigh(q, count, demands)
    effective = float(1.0 / np.sum(weight**2))
    notes = [
        f"{samples:,} samples, of which {effective:,.0f} count as effective; errors and ranges are those of sampling.",
        "Demands are taken as independent of each other given the parameters.",
    ]
    if effective < LEAST_EFFECTIVE:
        notes.append("Too few samples fit what was seen to give figures: take more samples, or check what was seen.")
        return Inference((), samples, effective, tuple(notes))
    rows = [_describe("gate " + gate, 1, q, weight, effective)]
    for source, blocks in drawn.items():
        values = np.concatenate(blocks)
        rows.append(_describe(source.owner, source.position + 1, values, weight, effective))
    return Inference(tuple(rows), samples, effective, tuple(notes))


def _weigh(q: Values, count: int, demands: int) -> Values:
    """Normalised likelihood of each sample; float64[S]."""
    logs = stats.binom.logpmf(count, demands, np.clip(q, 0.0, 1.0))
    best = float(np.max(logs))
    if not np.isfinite(best):
        raise BadModel(Problem("No sample can give what was seen.", "Check the tree and the counts.", "data"))
    weight = np.exp(logs - best)
    return np.asarray(weight / weight.sum())


def _describe(owner: str, place: int, values: Values, weight: Values, effective: float) -> Learnt:
    mean = float(np.sum(weight * values))
    error = float(np.sqrt(np.sum((weight * (values - mean)) ** 2)))
    order = np.argsort(values)
    ends = np.cumsum(weight[order]) - weight[order] / 2.0
    slack = Z95 * np.sqrt(0.95 * 0.05 / effective)
    low, high = np.interp((0.95 - slack, min(0.95 + slack, 1.0)), ends, values[order])
    p05, p50, p95 = np.interp((0.05, 0.5, 0.95), ends, values[order])
    before = np.quantile(values, (0.05, 0.95))
    return Learnt(
        owner,
        place,
        float(values.mean()),
        float(before[0]),
        float(before[1]),
        mean,
        float(p05),
        float(p50),
        float(p95),
        error,
        (float(low), float(high)),
    )
