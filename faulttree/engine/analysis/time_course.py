"""The top event over time: Q(t), frequency w(t), time average and expected number of occurrences."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis.probability import condition, evaluate
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.solution import Solution
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.table import EventTable
from faulttree.engine.request import TimeGrid
from faulttree.engine.results import TimeCourse, TimePoint

MAX_POINTS = 10_000
BLOCK = 256  # times evaluated at once
QUADRATURE_NODES = 5  # Gauss-Legendre, exact for polynomials of degree 9 on each piece


def grid_times(grid: TimeGrid) -> NDArray[np.float64]:
    """Return the times of a grid, hours; raises BadModel when it has no or too many points."""
    if not (grid.step > 0.0 and 0.0 <= grid.start < grid.stop and np.isfinite(grid.stop)):
        problem = Problem("The time grid is empty.", "Give 0 <= START < STOP and STEP > 0, hours.", "time grid")
        raise BadModel(problem)
    steps = int((grid.stop - grid.start) / grid.step * (1.0 + 1e-12))
    if steps + 1 > MAX_POINTS:
        message = f"The time grid has {steps + 1:,} points; at most {MAX_POINTS:,} are computed."
        raise BadModel(Problem(message, "Give a larger step.", "time grid"))
    return np.asarray(grid.start + grid.step * np.arange(steps + 1), np.float64)


def follow_time(
    solution: Solution, table: EventTable, grid: TimeGrid, coherent: bool, watch: Watch
) -> tuple[TimeCourse, bool]:
    """Return the course of the top event, and whether its frequency is defined.

    Frequency: w(t) = sum over events of Birnbaum importance times failure intensity, for a coherent
    tree of independent events (Vesely 1970, from memory). Undefined (None) for a non-coherent tree,
    or when an event depends on time in a way that gives no failure intensity; at a single instant
    where it is infinite (the start of a Weibull law with a shape below 1).

    The average and the expected number are integrals of Q(t) and w(t) over the grid's interval:
    Gauss-Legendre on each step, cut where a test makes Q(t) jump or a Weibull law begins.
    """
    times = grid_times(grid)
    probability, frequency = _curves(solution, table, times, coherent, watch, "Following the mission")
    nodes, weights = _quadrature(times, table)
    node_q, node_w = _curves(solution, table, nodes, coherent, watch, "Averaging over the mission")
    defined = not np.isnan(node_w).any()
    points = tuple(
        TimePoint(float(t), float(q), float(w) if defined and np.isfinite(w) else None)
        for t, q, w in zip(times, probability, frequency, strict=True)
    )
    length = times[-1] - times[0]
    average = float(weights @ node_q / length) if length > 0.0 else float(probability[0])
    return TimeCourse(points, average, float(weights @ node_w) if defined else None), defined


def _curves(
    solution: Solution, table: EventTable, times: NDArray[np.float64], coherent: bool, watch: Watch, step: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    probability, frequency = np.empty(len(times)), np.full(len(times), np.nan)
    usable = coherent and not table.events_without_intensity
    for k in range(len(times)):
        watch.say(step, k / len(times))
        if k % BLOCK == 0:
            values = table.over_time(times[k : k + BLOCK])
        p = np.ascontiguousarray(values.probability[k % BLOCK])
        valuation = evaluate(solution, p)
        probability[k] = valuation.holds
        if usable:
            given_true, given_false = condition(solution, p, valuation)
            frequency[k] = float((given_true - given_false) @ values.failure_intensity[k % BLOCK])
    return probability, frequency


def _quadrature(times: NDArray[np.float64], table: EventTable) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nodes and weights over the whole grid, hours."""
    breaks = table.break_times(float(times[0]), float(times[-1]))
    edges = np.unique(np.concatenate([times, breaks]))
    x, w = np.polynomial.legendre.leggauss(QUADRATURE_NODES)
    half = np.diff(edges) / 2.0
    middle = (edges[1:] + edges[:-1]) / 2.0
    return (middle[:, None] + half[:, None] * x).ravel(), (half[:, None] * w).ravel()
