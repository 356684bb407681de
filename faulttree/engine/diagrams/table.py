"""A growing table of hash-consed nodes with a cache of results, shared by both kinds of diagram."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.diagrams import bdd_kernels, table_kernels
from faulttree.engine.errors import LimitReached

FIRST_CAPACITY = 1 << 16  # rows, and results remembered
LARGEST_CACHE = 1 << 22
FUEL = 500_000  # cache misses between two looks at the watch: some tens of milliseconds
BYTES_PER_ROW = 16
_NO_VARIABLE = 2**31 - 1


class NodeTable:
    """Rows of nodes, their buckets and the operation cache.

    Children always have smaller numbers than their parents, also after `collect`, so every pass
    over a diagram is one loop over the rows.

    nodes : int32[N, 4], buckets : int32[N], cache : int32[C, 4]; see bdd_kernels.py
    constants : rows that are constants (1 for signed edges, 2 for plain node numbers)
    limit : nodes at which no more rows are added (the table may hold up to twice as many)
    work_limit : most cache misses, None for no limit
    expected : rows the table should have room for at the start
    """

    def __init__(
        self,
        *,
        constants: int,
        shift: int,
        limit: int,
        watch: Watch,
        work_limit: int | None = None,
        expected: int = FIRST_CAPACITY,
    ) -> None:
        self.constants = constants
        self.shift = shift
        self.limit = limit
        self.watch = watch
        self.work_limit = work_limit
        self.work = 0
        capacity = min(FIRST_CAPACITY, 1 << max(min(limit, expected), 4).bit_length())
        self.nodes: NDArray[np.int32] = np.zeros((capacity, 4), np.int32)
        self.nodes[:constants, 0] = _NO_VARIABLE
        self.buckets: NDArray[np.int32] = np.zeros(capacity, np.int32)
        self.cache: NDArray[np.int32] = np.zeros((capacity, 4), np.int32)
        self.state: NDArray[np.int64] = np.zeros(8, np.int64)
        self.state[bdd_kernels.COUNT] = constants

    @property
    def count(self) -> int:
        """Rows in use, constants included."""
        return int(self.state[bdd_kernels.COUNT])

    def find_or_add(self, variable: int, low: int, high: int) -> int:
        """Return the number of the node with these fields, made if need be."""
        if self.count == len(self.nodes):
            self.grow()
        node = bdd_kernels.find_or_add(self.nodes, self.buckets, self.count, variable, low, high)
        self.state[bdd_kernels.COUNT] = max(self.count, node + 1)
        return int(node)

    def run(self, kernel: Callable[..., int], stack: NDArray[np.int32], f: int, g: int) -> int:
        """Run a two-argument kernel to its end, growing the table and heeding the watch."""
        state = self.state
        state[bdd_kernels.DEPTH] = state[bdd_kernels.HAVE] = 0
        state[bdd_kernels.F], state[bdd_kernels.G] = f, g
        while (status := kernel(self.nodes, self.buckets, self.cache, stack, state)) != bdd_kernels.DONE:
            self.go_on(status)
        return int(state[bdd_kernels.RESULT])

    def go_on(self, status: int) -> None:
        """Give a stopped call what it needs: more rows, or more fuel once the watch has been asked."""
        if status == bdd_kernels.FULL:
            self.grow()
            return
        if self.work_limit is not None and self.work > self.work_limit:
            raise LimitReached("work", f"The diagram needs more than {self.work_limit:,} steps.")
        self.work += FUEL
        self.state[bdd_kernels.FUEL] = FUEL
        self.watch.check()

    def grow(self) -> None:
        """Double the rows, and the cache one doubling later while it is small; raises LimitReached at the limit.

        A small cache stays in the processor's own: four results per row took half as long again to build with.
        """
        capacity = len(self.nodes)
        if capacity > self.limit:
            raise LimitReached("nodes", f"The diagram needs more than {self.limit:,} nodes.")
        self._check_memory(2 * capacity)
        larger = np.zeros((2 * capacity, 4), np.int32)
        larger[:capacity] = self.nodes
        self.nodes = larger
        self.buckets = np.zeros(2 * capacity, np.int32)
        table_kernels.rehash_nodes(self.nodes, self.buckets, self.constants, self.count)
        if len(self.cache) < min(capacity, LARGEST_CACHE):
            cache = np.zeros((2 * len(self.cache), 4), np.int32)
            table_kernels.rehash_cache(self.cache, cache)
            self.cache = cache

    def collect(self, roots: NDArray[np.int64]) -> None:
        """Drop what no root reaches; `roots` (edges) is rewritten in place. Not during a call.

        Remembered results between nodes that live on are kept.
        """
        count = self.count
        alive, moved = np.zeros(count, np.uint8), np.zeros(count, np.int32)
        alive[: self.constants] = 1
        alive[roots >> self.shift] = 1
        table_kernels.mark_below(self.nodes, alive, count, self.shift)
        self.state[bdd_kernels.COUNT] = table_kernels.compact(
            self.nodes, alive, moved, self.nodes, self.constants, count, self.shift
        )
        self.buckets[:] = 0
        table_kernels.rehash_nodes(self.nodes, self.buckets, self.constants, self.count)
        table_kernels.move_cache(self.cache, alive, moved, self.shift)
        cache = np.zeros_like(self.cache)
        table_kernels.rehash_cache(self.cache, cache)
        self.cache = cache
        roots[:] = (moved[roots >> self.shift].astype(np.int64) << self.shift) | (roots & ((1 << self.shift) - 1))

    def extract(self, root: int) -> tuple[NDArray[np.int32], int]:
        """Return the rows (variable, low, high) that a root edge reaches, renumbered, and its new edge."""
        count = (root >> self.shift) + 1  # whatever the root reaches has a smaller number
        alive, moved = np.zeros(max(count, self.constants), np.uint8), np.zeros(max(count, self.constants), np.int32)
        alive[: self.constants] = 1
        alive[root >> self.shift] = 1
        table_kernels.mark_below(self.nodes, alive, count, self.shift)
        out = np.zeros((int(alive.sum()), 4), np.int32)
        out[: self.constants, 0] = _NO_VARIABLE
        table_kernels.compact(self.nodes, alive, moved, out, self.constants, count, self.shift)
        edge = (int(moved[root >> self.shift]) << self.shift) | (root & ((1 << self.shift) - 1))
        return np.ascontiguousarray(out[:, :3]), edge

    def _check_memory(self, capacity: int) -> None:
        limit = self.watch.budget.memory_mib
        needed = capacity * (BYTES_PER_ROW * 3 // 2 + 4) + self.cache.nbytes * 3  # old and new rows at once
        if limit is not None and needed > limit * 2**20:
            raise LimitReached("memory", f"The diagram needs more than {limit:,} MiB.")
        if 2 * capacity >= 2**31:
            raise LimitReached("nodes", "The diagram needs more nodes than edges can number.")
