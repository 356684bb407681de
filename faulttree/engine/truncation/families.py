"""A growing table of families of weighted sets, and sums over them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.errors import LimitReached
from faulttree.engine.truncation import kernels

FIRST_CAPACITY = 1 << 16
LARGEST_CACHE = 1 << 22
BYTES_PER_ROW = 28
STEPS = 1_000_000  # between two looks at the watch, some tenths of a second


class FamilyTable:
    """Families over V variables with whole-number weights; see kernels.py for the arrays."""

    def __init__(self, weight: NDArray[np.int32], *, memory_mib: int | None, watch: Watch) -> None:
        self.weight = weight
        self.watch = watch
        self._memory_mib = memory_mib
        self.nodes = np.zeros((FIRST_CAPACITY, 6), np.int32)
        self.nodes[:2, 0] = 2**31 - 1
        self.nodes[0, 4:] = kernels.NO_SET, -kernels.NO_SET
        self.buckets = np.zeros(FIRST_CAPACITY, np.int32)
        self.cache = np.zeros((FIRST_CAPACITY, 4), np.int32)
        self.state = np.array([2, 0, 0], np.int64)
        self._place = np.full(FIRST_CAPACITY, -1, np.int32)

    def variable(self, v: int) -> int:
        """Family of the one set {v}."""
        return self._run(kernels.make, v, 0, 1)

    def union(self, f: int, g: int) -> int:
        """Minimal sets of f and g together."""
        return self._run(kernels.union, f, g)

    def product(self, f: int, g: int, most: int) -> int:
        """Minimal unions of a set of f and a set of g whose weight is `most` or less."""
        return self._run(kernels.product, f, g, most)

    def keep(self, f: int, most: int) -> int:
        """Sets of f whose weight is `most` or less."""
        return self._run(kernels.keep, f, most)

    def least(self, f: int) -> int:
        """Least weight of any set of f."""
        return int(self.nodes[f, 4])

    def sums(self, f: int, p: NDArray[np.float64], most: int) -> NDArray[np.float64]:
        """Sum over the sets of f of the product of p, by weight 0..most; heavier ones count in the last place."""
        if f < 2:
            out = np.zeros(most + 1)
            out[0] = float(f == 1)
            return out
        rows, count = self.rows_below(f)
        sums: NDArray[np.float64] = np.empty((count, most + 1))
        kernels.sum_by_weight(self.nodes, rows, count, self._place, self.weight, p, sums)
        result: NDArray[np.float64] = np.array(sums[self._place[f]])
        self._place[rows[:count]] = -1
        return result

    def extract(self, f: int) -> tuple[NDArray[np.int32], int]:
        """Rows (variable, low, high) that f reaches, renumbered, constants first; and f's own number there."""
        rows, count = self.rows_below(f)
        out = self.nodes[rows[:count], :3].copy()
        out[2:, 1:] = self._place[out[2:, 1:]]
        root = int(self._place[f])
        self._place[rows[:count]] = -1
        return np.ascontiguousarray(out), root

    def rows_below(self, f: int) -> tuple[NDArray[np.int32], int]:
        """Rows that f reaches, in rising order; `_place` holds their ranks until it is reset."""
        rows = np.empty(int(self.state[kernels.COUNT]), np.int32)
        return rows, int(kernels.list_below(self.nodes, f, self._place, rows))

    def _tables(self) -> tuple[Any, ...]:
        return self.nodes, self.buckets, self.cache, self.weight, self.state

    def _run(self, operation: Callable[..., int], *arguments: int) -> int:
        """Repeat an operation until it is through, each time with room or with twice the steps."""
        slice_steps = STEPS
        while True:
            self.watch.check()
            self.state[kernels.STEPS], self.state[kernels.MOST_STEPS] = 0, slice_steps
            result = int(operation(*self._tables(), *arguments))
            if result != kernels.STOPPED:
                return result
            if self.state[kernels.COUNT] == len(self.nodes):
                self._grow()
            else:
                slice_steps *= 2

    def _grow(self) -> None:
        capacity = len(self.nodes)
        needed = (2 * capacity + capacity) * BYTES_PER_ROW + 2 * self.cache.nbytes
        if self._memory_mib is not None and needed > self._memory_mib * 2**20:
            raise LimitReached("memory", f"The cut sets need more than {self._memory_mib:,} MiB.")
        self.watch.check()
        nodes = np.zeros((2 * capacity, 6), np.int32)
        nodes[:capacity] = self.nodes
        self.nodes = nodes
        self.buckets = np.zeros(2 * capacity, np.int32)
        kernels.rehash(self.nodes, self.buckets, int(self.state[kernels.COUNT]))
        if len(self.cache) < min(2 * capacity, LARGEST_CACHE):
            cache = np.zeros((2 * len(self.cache), 4), np.int32)
            kernels.rehash_cache(self.cache, cache)
            self.cache = cache
        self._place = np.full(2 * capacity, -1, np.int32)
