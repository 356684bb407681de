"""Probability that some minimal cut set with a given event occurs (the union form of Fussell-Vesely)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis import kernels
from faulttree.engine.analysis.probability import Valuation, Vector, input_values
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams import bdd_kernels, zdd_kernels
from faulttree.engine.diagrams.table import NodeTable
from faulttree.engine.diagrams.zdd import Family
from faulttree.engine.errors import LimitReached

MAX_NODES = 4_000_000
MAX_WORK = 20_000_000


def cut_union_probabilities(
    families: list[Family], p: Vector, valuation: Valuation, watch: Watch
) -> list[float | None]:
    """Return, for each variable, the probability of the union of the minimal cut sets that contain it.

    Within a module the union for an input is "the input, and some set it completes"; over modules
    the conditions multiply, since they share no event. None where the diagrams of these unions
    would grow past a fixed size. Variables in no cut set give 0.
    """
    result: list[float | None] = [0.0] * len(p)
    above: list[float | None] = [0.0] * len(families)  # probability that the rest of some set occurs
    above[-1] = 1.0
    for j in range(len(families) - 1, -1, -1):
        watch.say("Weighing events", 1.0 - (j + 1) / len(families))
        family = families[j]
        rests = _rests(family, p, valuation, watch)
        for position, i in enumerate(family.inputs):
            outer, rest = above[j], None if rests is None else float(rests[position])
            both = None if outer is None or rest is None else outer * rest
            if i >= 0:
                result[i] = None if both is None else both * float(p[i])
            else:
                above[~i] = both
    return result


def _rests(family: Family, p: Vector, valuation: Valuation, watch: Watch) -> Vector | None:
    """For each input, the probability that what it completes to a cut set of the module occurs."""
    work_watch = replace(watch, budget=Budget(MAX_NODES, watch.budget.seconds, watch.budget.memory_mib))
    table = NodeTable(
        constants=1, shift=1, limit=MAX_NODES, watch=work_watch, work_limit=MAX_WORK, expected=4 * len(family.rows)
    )
    stack = np.zeros((len(family.inputs) + 4, 8), np.int32)
    union = np.zeros(len(family.rows), np.int64)
    edges = np.zeros(len(family.inputs), np.int64)
    try:
        _unite(table, stack, family, -1, union, union)
        for position in range(len(family.inputs)):
            out = np.zeros(len(family.rows), np.int64)
            _unite(table, stack, family, position, union, out)
            edges[position] = out[family.root]
    except LimitReached as reached:
        if reached.limit == "seconds":
            raise
        return None
    true = input_values(family.inputs, p, valuation.module_holds)
    false = input_values(family.inputs, 1.0 - p, valuation.module_fails)
    rows = np.ascontiguousarray(table.nodes[: table.count, :3])
    holds, fails = np.empty(len(rows)), np.empty(len(rows))
    kernels.node_probabilities(rows, true, false, holds, fails)
    return np.asarray(np.where(edges & 1, fails[edges >> 1], holds[edges >> 1]))


def _unite(
    table: NodeTable,
    stack: NDArray[np.int32],
    family: Family,
    wanted: int,
    union: NDArray[np.int64],
    out: NDArray[np.int64],
) -> None:
    table.state[zdd_kernels.NEXT] = table.state[bdd_kernels.HAVE] = table.state[bdd_kernels.DEPTH] = 0
    while (
        status := zdd_kernels.unite_sets(
            family.rows, wanted, union, out, table.nodes, table.buckets, table.cache, stack, table.state
        )
    ) != bdd_kernels.DONE:
        table.go_on(status)
