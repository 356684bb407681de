"""Binary decision diagrams with complement edges: the Boolean operations on whole functions.

References: Bryant 1986 (diagrams); Brace, Rudell and Bryant 1990 (complement edges, hash consing).
An edge is an int: 0 false, 1 true, `edge ^ 1` the negation.
"""

from __future__ import annotations

import numpy as np

from faulttree.engine.budget import Watch
from faulttree.engine.diagrams import bdd_kernels
from faulttree.engine.diagrams.table import NodeTable

FALSE_EDGE, TRUE_EDGE = 0, 1
ROWS_PER_VARIABLE = 64  # room at the start
LEAST_COLLECTION, MOST_COLLECTION = 1 << 18, 1 << 21  # nodes; between them, a collection waits for half the limit


class Bdd:
    """A manager over variables 0..V-1, in the order in which they are tested.

    gates_built : gates of a netlist built so far, a measure of how far a build came
    """

    def __init__(self, variables: int, *, limit: int, watch: Watch, work_limit: int | None = None) -> None:
        self.table = NodeTable(
            constants=1,
            shift=1,
            limit=limit,
            watch=watch,
            work_limit=work_limit,
            expected=ROWS_PER_VARIABLE * variables,
        )
        self.gates_built = 0
        self._stack = np.zeros((variables + 4, 8), np.int32)

    def variable(self, level: int) -> int:
        """Edge of the variable at this level."""
        return 2 * self.table.find_or_add(level, FALSE_EDGE, TRUE_EDGE)

    def both(self, f: int, g: int) -> int:
        """Edge of f and g."""
        return self.table.run(bdd_kernels.conjoin, self._stack, f, g)

    def either(self, f: int, g: int) -> int:
        """Edge of f or g."""
        return self.both(f ^ 1, g ^ 1) ^ 1

    def differ(self, f: int, g: int) -> int:
        """Edge of f exclusive-or g."""
        return self.either(self.both(f, g ^ 1), self.both(f ^ 1, g))

    def at_least(self, k: int, edges: list[int]) -> int:
        """Edge of "k or more of the edges", in O(n k) operations and without listing combinations."""
        row = [TRUE_EDGE] + [FALSE_EDGE] * k  # row[j]: at least j of the edges seen so far
        for seen, edge in enumerate(edges):
            for j in range(min(k, seen + 1), 0, -1):
                row[j] = self.either(row[j], self.both(edge, row[j - 1]))
        return row[k]
