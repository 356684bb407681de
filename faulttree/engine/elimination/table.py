"""A growing table of algebraic decision diagrams: multiply, sum out, drop what is no longer needed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.elimination import kernels
from faulttree.engine.errors import LimitReached

FIRST_CAPACITY = 1 << 14
LARGEST_CACHE = 1 << 23
FUEL = 400_000  # cache misses between two looks at the watch: some tens of milliseconds
BYTES_PER_NODE = 29  # row, mean, bucket and mark
BYTES_PER_LEAF = 16
BYTES_PER_CACHE_ROW = 36


class AddTable:
    """Functions of V levels with numbers at the leaves; references and arrays as in kernels.py.

    weights : float64[V, 2], weight of "level is 0" and "level is 1", adding up to 1
    limit : most nodes alive at once
    work_limit : most cache misses, None for no limit
    """

    def __init__(
        self, weights: NDArray[np.float64], *, limit: int, watch: Watch, work_limit: int | None = None
    ) -> None:
        self.weights = weights
        self.limit = limit
        self.watch = watch
        self.work_limit = work_limit
        self.work = 0
        self.peak = 0
        self.nodes = np.empty((FIRST_CAPACITY, 4), np.int32)
        self.means = np.empty(FIRST_CAPACITY)
        self.buckets = np.full(FIRST_CAPACITY, -1, np.int32)
        self.seen = np.zeros(FIRST_CAPACITY, np.uint8)
        self.leaves = np.zeros(FIRST_CAPACITY)
        self.leaves[1] = 1.0
        self.leaf_next = np.full(FIRST_CAPACITY, -1, np.int32)
        self.leaf_buckets = np.full(FIRST_CAPACITY, -1, np.int32)
        self._make_cache(FIRST_CAPACITY)
        self.stack = np.empty((len(weights) + 4, 8), np.int32)
        self.low_sums = np.empty(len(weights) + 5)
        self.state = np.zeros(16, np.int64)
        self.state[kernels.LEAVES] = 2
        self._rehash_leaves()

    @property
    def count(self) -> int:
        """Nodes in the table, alive or not."""
        return int(self.state[kernels.COUNT])

    def value(self, reference: int) -> float:
        """Number of a constant function."""
        assert reference < 0
        return float(self.leaves[~reference])

    def leaf(self, value: float) -> int:
        """Reference of a constant function."""
        while True:
            found = kernels.find_leaf(
                self.leaves, self.leaves.view(np.int64), self.leaf_next, self.leaf_buckets, self.state, value
            )
            if found != kernels.PENDING:
                return int(found)
            self._grow_leaves()

    def node(self, level: int, low: int, high: int) -> int:
        """Reference of "high if the level is 1, else low"; both must lie below the level."""
        while True:
            found = kernels.find_node(
                self.nodes, self.means, self.buckets, self.leaves, self.weights, self.state, level, low, high
            )
            if found != kernels.PENDING:
                return int(found)
            self._grow_nodes()

    def multiply(self, f: int, g: int) -> int:
        """Reference of the product of f and g."""
        return self.multiply_and_sum(f, g, kernels.LEAF_LEVEL)

    def multiply_and_sum(self, f: int, g: int, cut: int) -> int:
        """Reference of the weighted sum of f * g over all levels from `cut` down."""
        state = self.state
        state[kernels.DEPTH] = state[kernels.HAVE] = 0
        state[kernels.F], state[kernels.G], state[kernels.CUT] = f, g, cut
        state[kernels.SERIAL] += 1
        while (status := self._step()) != kernels.DONE:
            if status == kernels.PAUSED:
                self._refuel()
            elif self.count == len(self.nodes):
                self._grow_nodes()
            else:
                self._grow_leaves()
        return int(state[kernels.RESULT])

    def size(self, reference: int) -> int:
        """Number of nodes of a function."""
        return int(kernels.count_below(self.nodes, reference, self.seen))

    def collect(self, roots: Sequence[int]) -> list[int]:
        """Drop what no root reaches and return the roots' new references. Not during a call."""
        moved = np.zeros(self.count, np.int32)
        leaf_moved = np.zeros(int(self.state[kernels.LEAVES]), np.int32)
        for root in roots:
            if root >= 0:
                moved[root] = 1
            else:
                leaf_moved[~root] = 1
        kernels.compact(self.nodes, self.means, self.leaves, moved, leaf_moved, self.state)
        self._rehash_nodes()
        self._rehash_leaves()
        self.state[kernels.SERIAL] += 1
        return [int(moved[root]) if root >= 0 else ~int(leaf_moved[~root]) for root in roots]

    def _step(self) -> int:
        return int(
            kernels.multiply_and_sum(
                self.nodes,
                self.means,
                self.buckets,
                self.leaves,
                self.leaves.view(np.int64),
                self.leaf_next,
                self.leaf_buckets,
                self.cache,
                self.sum_cache,
                self.sums,
                self.stack,
                self.low_sums,
                self.weights,
                self.state,
            )
        )

    def _refuel(self) -> None:
        if self.work_limit is not None and self.work > self.work_limit:
            raise LimitReached("work", f"The elimination needs more than {self.work_limit:,} steps.")
        self.watch.check()
        self.work += FUEL
        self.state[kernels.FUEL] = FUEL

    def _grow_nodes(self) -> None:
        """Double the nodes, and the caches while they are small; raises LimitReached at the limit."""
        old = len(self.nodes)
        if old >= self.limit:
            raise LimitReached("nodes", f"The elimination needs more than {self.limit:,} nodes.")
        new = min(2 * old, 1 << max(14, (self.limit - 1).bit_length()))
        self._check_memory(nodes=new, leaves=len(self.leaves))
        count = self.count
        nodes = np.empty((new, 4), np.int32)
        nodes[:count] = self.nodes[:count]
        self.nodes = nodes
        means = np.empty(new)
        means[:count] = self.means[:count]
        self.means = means
        self.seen = np.zeros(new, np.uint8)
        self.buckets = np.empty(new, np.int32)
        self._rehash_nodes()
        if len(self.cache) < min(new, LARGEST_CACHE):
            self._make_cache(2 * len(self.cache))

    def _grow_leaves(self) -> None:
        old = len(self.leaves)
        self._check_memory(nodes=len(self.nodes), leaves=2 * old)
        leaves = np.empty(2 * old)
        leaves[:old] = self.leaves
        self.leaves = leaves
        self.leaf_next = np.empty(2 * old, np.int32)
        self.leaf_buckets = np.empty(2 * old, np.int32)
        self._rehash_leaves()

    def _rehash_nodes(self) -> None:
        self.buckets[:] = -1
        kernels.rehash_nodes(self.nodes, self.buckets, self.count)

    def _rehash_leaves(self) -> None:
        self.leaf_buckets[:] = -1
        kernels.rehash_leaves(
            self.leaves.view(np.int64), self.leaf_next, self.leaf_buckets, int(self.state[kernels.LEAVES])
        )

    def _make_cache(self, rows: int) -> None:
        self.cache = np.zeros((rows, 4), np.int32)
        self.sum_cache = np.zeros((rows, 3), np.int32)
        self.sums = np.zeros(rows)

    def _check_memory(self, *, nodes: int, leaves: int) -> None:
        limit = self.watch.budget.memory_mib
        rows = min(nodes, LARGEST_CACHE)
        needed = nodes * BYTES_PER_NODE * 3 // 2 + leaves * BYTES_PER_LEAF * 3 // 2 + rows * BYTES_PER_CACHE_ROW
        if limit is not None and needed > limit * 2**20:
            raise LimitReached("memory", f"The elimination needs more than {limit:,} MiB.")
        if nodes >= 2**31 or leaves >= 2**31 - 2:
            raise LimitReached("nodes", "The elimination needs more nodes than references can number.")
