"""Loops that look after a node table: growing, collecting, copying out.

Arrays are those of bdd_kernels.py; a zero-suppressed table (zdd_kernels.py) has the same rows with
plain node numbers instead of signed edges.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from faulttree.engine.diagrams.bdd_kernels import _node_slot, _pair_slot


@njit("void(int32[:, ::1], int32[::1], int64, int64)", cache=True, nogil=True)
def rehash_nodes(nodes, buckets, first, count):
    """Chain nodes first..count-1 into empty buckets."""
    mask = buckets.shape[0] - 1
    for node in range(first, count):
        variable, low, high = np.int64(nodes[node, 0]), np.int64(nodes[node, 1]), np.int64(nodes[node, 2])
        bucket = _node_slot(variable, low, high, mask)
        nodes[node, 3] = buckets[bucket]
        buckets[bucket] = node


@njit("void(int32[:, ::1], int32[:, ::1])", cache=True, nogil=True)
def rehash_cache(old, new):
    """Move remembered results to a larger cache; an empty row is all zero."""
    mask = new.shape[0] - 1
    for row in range(old.shape[0]):
        if old[row, 0] != 0 or old[row, 1] != 0:
            slot = _pair_slot(np.int64(old[row, 0]), np.int64(old[row, 1]), mask)
            for column in range(4):
                new[slot, column] = old[row, column]


@njit("void(int32[:, ::1], uint8[::1], int64, int64)", cache=True, nogil=True)
def mark_below(nodes, alive, count, shift):
    """Mark what marked nodes reach; children have smaller numbers. shift = 1 for signed edges, 0 for plain."""
    for node in range(count - 1, 0, -1):
        if alive[node]:
            alive[nodes[node, 1] >> shift] = 1
            alive[nodes[node, 2] >> shift] = 1


@njit("int64(int32[:, ::1], uint8[::1], int32[::1], int32[:, ::1], int64, int64, int64)", cache=True, nogil=True)
def compact(nodes, alive, moved, out, first, count, shift):
    """Copy the constants and the marked nodes to `out`, in order; moved[old] = new. Returns how many.

    `out` may be `nodes` itself, since a node never moves up.
    """
    used = first
    mask = (1 << shift) - 1
    for node in range(first):
        moved[node] = node
    for node in range(first, count):
        if alive[node]:
            low, high = nodes[node, 1], nodes[node, 2]
            out[used, 0] = nodes[node, 0]
            out[used, 1] = (moved[low >> shift] << shift) | (low & mask)
            out[used, 2] = (moved[high >> shift] << shift) | (high & mask)
            moved[node] = used
            used += 1
    return used


@njit("void(int32[:, ::1], uint8[::1], int32[::1], int64)", cache=True, nogil=True)
def move_cache(cache, alive, moved, shift):
    """Keep the remembered results whose three nodes live, under their new numbers; clear the others.

    Rows keep their place only if the hash still leads there, so this is called before rehash_cache.
    """
    mask = (1 << shift) - 1
    for row in range(cache.shape[0]):
        if cache[row, 0] == 0 and cache[row, 1] == 0:
            continue
        keep = True
        for column in range(3):
            if not alive[cache[row, column] >> shift]:
                keep = False
        for column in range(3):
            edge = cache[row, column]
            cache[row, column] = (moved[edge >> shift] << shift) | (edge & mask) if keep else 0
