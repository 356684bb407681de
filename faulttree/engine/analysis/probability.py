"""Exact probabilities from a solution: the top event, and each input conditioned on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis import kernels
from faulttree.engine.diagrams.solution import Diagram, Solution

Vector = NDArray[np.float64]

BATCH_BYTES = 64 * 2**20  # table of one batch of samples


@dataclass(frozen=True)
class Valuation:
    """Probabilities of a solution's function and of its modules, for one set of event probabilities.

    holds, fails : of the whole function
    module_holds, module_fails : float64[modules]
    """

    holds: float
    fails: float
    module_holds: Vector
    module_fails: Vector


def input_values(inputs: tuple[int, ...], events: Vector, modules: Vector) -> Vector:
    """Values of a diagram's inputs: event i from `events`, module ~j from `modules`."""
    return np.array([events[i] if i >= 0 else modules[~i] for i in inputs], np.float64)


def evaluate(solution: Solution, p: Vector) -> Valuation:
    """Return the exact probabilities of a solution.

    p : float64[V], probability of each variable of the solution, within [0, 1]
    """
    count = len(solution.diagrams)
    holds, fails = np.zeros(count), np.ones(count)
    for j, diagram in enumerate(solution.diagrams):
        row_holds, row_fails = _rows(diagram, p, holds, fails)
        holds[j], fails[j] = row_holds[diagram.root], row_fails[diagram.root]
    top, not_top = (holds[-1], fails[-1]) if count else (0.0, 1.0)
    if solution.sign:
        top, not_top = not_top, top
    return Valuation(float(top), float(not_top), holds, fails)


def _rows(diagram: Diagram, p: Vector, holds: Vector, fails: Vector) -> tuple[Vector, Vector]:
    true = input_values(diagram.inputs, p, holds)
    false = input_values(diagram.inputs, 1.0 - p, fails)
    row_holds, row_fails = np.empty(len(diagram.rows)), np.empty(len(diagram.rows))
    kernels.node_probabilities(diagram.rows, true, false, row_holds, row_fails)
    return row_holds, row_fails


def condition(solution: Solution, p: Vector, valuation: Valuation) -> tuple[Vector, Vector]:
    """Return P(top | event occurred) and P(top | event did not occur), float64[V] each.

    An event that the function does not depend on has P(top) in both. One pass down each diagram:
    a module's own conditional probabilities carry over to its inputs, since nothing else depends
    on them. The part of the probability that does not pass through a variable is found by
    subtraction, so P(top | not occurred) is exact to about 1e-16 of P(top), not of itself.
    """
    given_true = np.full(len(solution.variables), valuation.holds)
    given_false = given_true.copy()
    count = len(solution.diagrams)
    top_true, top_false = np.zeros(count), np.zeros(count)  # P(top | module holds), P(top | it fails)
    if count:
        top_true[-1], top_false[-1] = (0.0, 1.0) if solution.sign else (1.0, 0.0)
    for j in range(count - 1, -1, -1):
        if_true, if_false = _condition_module(solution.diagrams[j], p, valuation)
        for position, i in enumerate(solution.diagrams[j].inputs):
            one = top_true[j] * if_true[position] + top_false[j] * (1.0 - if_true[position])
            zero = top_true[j] * if_false[position] + top_false[j] * (1.0 - if_false[position])
            if i >= 0:
                given_true[i], given_false[i] = one, zero
            else:
                top_true[~i], top_false[~i] = one, zero
    return given_true, given_false


def _condition_module(diagram: Diagram, p: Vector, valuation: Valuation) -> tuple[Vector, Vector]:
    """P(module | input true) and P(module | input false) for each input position."""
    true = input_values(diagram.inputs, p, valuation.module_holds)
    false = input_values(diagram.inputs, 1.0 - p, valuation.module_fails)
    row_holds, row_fails = np.empty(len(diagram.rows)), np.empty(len(diagram.rows))
    kernels.node_probabilities(diagram.rows, true, false, row_holds, row_fails)
    weight, out = np.empty((len(diagram.rows), 2)), np.empty((len(diagram.inputs), 3))
    kernels.condition_on_inputs(diagram.rows, true, false, row_holds, row_fails, weight, out)
    whole = row_holds[diagram.root]
    around = whole - out[:, 2]
    around[around < 1e-14 * whole] = 0.0  # rounding, not probability
    return np.minimum(out[:, 0] + around, 1.0), np.minimum(out[:, 1] + around, 1.0)


def evaluate_batch(solution: Solution, p: NDArray[np.float64]) -> Vector:
    """Return the top-event probability for many sets of event probabilities.

    p : float64[S, V]; returns float64[S]
    """
    samples = p.shape[0]
    if not solution.diagrams:
        return np.full(samples, float(solution.sign))
    largest = max(len(diagram.rows) for diagram in solution.diagrams)
    size = int(np.clip(BATCH_BYTES // (8 * largest), 8, 512))
    out = np.empty(samples)
    scratch = np.empty((largest, size))
    for start in range(0, samples, size):
        block = np.ascontiguousarray(p[start : start + size].T)
        out[start : start + size] = _evaluate_block(solution, block, scratch)
    return 1.0 - out if solution.sign else out


def _evaluate_block(solution: Solution, block: NDArray[np.float64], scratch: NDArray[np.float64]) -> Vector:
    modules = np.empty((len(solution.diagrams), block.shape[1]))
    for j, diagram in enumerate(solution.diagrams):
        true = np.empty((len(diagram.inputs), block.shape[1]))
        for position, i in enumerate(diagram.inputs):
            true[position] = block[i] if i >= 0 else modules[~i]
        holds = np.ascontiguousarray(scratch[: len(diagram.rows), : block.shape[1]])
        kernels.batch_probabilities(diagram.rows, true, holds)
        modules[j] = holds[diagram.root]
    return np.asarray(modules[-1])
