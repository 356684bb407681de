"""Families of sets as zero-suppressed diagrams: the minimal cut sets of a solution, module by module.

References: Minato 1993 (zero-suppressed diagrams); Rauzy 1993 and 2001 (minimal solutions).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.diagrams import bdd_kernels, zdd_kernels
from faulttree.engine.diagrams.solution import Diagram, Solution
from faulttree.engine.diagrams.table import NodeTable


@dataclass(frozen=True)
class Family:
    """The minimal cut sets of one module over its inputs.

    rows : int32[N, 3]; variable (position in `inputs`), low node, high node; rows 0 and 1 are the
        empty family and the family of the empty set; children first
    root : row of the whole family
    inputs : by position, the global variable i >= 0, or module j written as ~j
    """

    rows: NDArray[np.int32]
    root: int
    inputs: tuple[int, ...]


def minimal_cut_sets(solution: Solution, watch: Watch) -> list[Family]:
    """Return the families of all modules; the whole is the last one with the others put in.

    Only for a solution whose sign is 0: a negated function holds when nothing occurred, so its
    single minimal cut set is the empty one.
    """
    families = []
    for done, diagram in enumerate(solution.diagrams):
        watch.say("Finding minimal cut sets", done / len(solution.diagrams))
        families.append(_solve_module(diagram, watch))
    return families


def _solve_module(diagram: Diagram, watch: Watch) -> Family:
    rows = diagram.rows
    limit = watch.budget.nodes or 2**30
    table = NodeTable(constants=2, shift=0, limit=limit, watch=watch, expected=2 * len(rows))
    needed = np.zeros(2 * len(rows), np.uint8)
    needed[2 * diagram.root] = 1
    zdd_kernels.mark_needed(rows, needed)
    family = np.zeros(2 * len(rows), np.int32)
    family[1] = 1
    stack = np.zeros((len(diagram.inputs) + 4, 8), np.int32)
    while (
        status := zdd_kernels.solve_minimal(
            rows, needed, family, table.nodes, table.buckets, table.cache, stack, table.state
        )
    ) != bdd_kernels.DONE:
        table.go_on(status)
    kept, root = table.extract(int(family[2 * diagram.root]))
    return Family(kept, root, diagram.inputs)
