"""Operations on families of weighted sets that may be cut off at a weight.

nodes    int32[N, 6]  a row a node: variable, low, high, next of the bucket, least and most weight of its sets
buckets  int32[B]     first node of each hash bucket, 0 = none; B is a power of two
cache    int32[C, 4]  remembered results: operation and cut-off, f, g, result; C is a power of two
weight   int32[V]     weight of each variable, 0 or more
state    int64[3]     nodes in use; steps made; steps after which to stop

Families are node numbers, 0 the empty one, 1 the family of the empty set; none holds a set that contains
another of its sets. Every function returns
STOPPED when the table is full or too many steps were made; the caller calls again with more of
either, and the cache makes that cheap.
Recursion is as deep as there are variables.
"""

from __future__ import annotations

import numpy as np
from numba import njit

STOPPED = -1
COUNT, STEPS, MOST_STEPS = 0, 1, 2
NO_SET = 1 << 29  # least weight of the empty family

_UNION, _WITHOUT, _KEEP, _PRODUCT = 0, 1, 2, 3
_HASH_A, _HASH_B, _HASH_C = 0x9E3779B97F4A7C15 - (1 << 64), 0x2545F4914F6CDD1D, 0x632BE59BD9B4E019

_TABLES = "int32[:, ::1], int32[::1], int32[:, ::1], int32[::1], int64[::1]"


@njit(f"int64({_TABLES}, int64, int64, int64)", cache=True, nogil=True)
def make(nodes, buckets, cache, weight, state, v, low, high):
    """Node with these fields; STOPPED if it is new and there is no room, or if a part is STOPPED."""
    if low < 0 or high < 0:
        return STOPPED
    if high == 0:
        return low
    slot = ((low * _HASH_A + high * _HASH_B + v * _HASH_C) >> 29) & (buckets.shape[0] - 1)
    n = np.int64(buckets[slot])
    while n != 0:
        if nodes[n, 0] == v and nodes[n, 1] == low and nodes[n, 2] == high:
            return n
        n = np.int64(nodes[n, 3])
    n = state[COUNT]
    if n == nodes.shape[0] or state[STEPS] > state[MOST_STEPS]:
        return STOPPED
    state[COUNT] = n + 1
    nodes[n, 0] = v
    nodes[n, 1] = low
    nodes[n, 2] = high
    nodes[n, 3] = buckets[slot]
    nodes[n, 4] = min(nodes[low, 4], nodes[high, 4] + weight[v])
    nodes[n, 5] = max(nodes[low, 5], nodes[high, 5] + weight[v])
    buckets[slot] = n
    return n


@njit(cache=True, nogil=True, inline="always")
def _slot(key, f, g, mask):
    return ((f * _HASH_A + g * _HASH_B + key * _HASH_C) >> 31) & mask


@njit(cache=True, nogil=True, inline="always")
def _remember(cache, slot, key, f, g, result):
    if result >= 0:
        cache[slot, 0] = key
        cache[slot, 1] = f
        cache[slot, 2] = g
        cache[slot, 3] = result
    return result


@njit(f"int64({_TABLES}, int64, int64)", cache=True, nogil=True)
def without(nodes, buckets, cache, weight, state, f, g):
    """The sets of f that contain no set of g."""
    if f < 0 or g < 0:
        return STOPPED
    if f > 1 and g > 1:
        while nodes[g, 0] < nodes[f, 0]:
            g = np.int64(nodes[g, 1])
    if f == 0 or g == 1 or f == g:
        return np.int64(0)
    if g == 0 or f == 1:
        return f
    key = _WITHOUT + 1
    slot = _slot(key, f, g, cache.shape[0] - 1)
    if cache[slot, 0] == key and cache[slot, 1] == f and cache[slot, 2] == g:
        return np.int64(cache[slot, 3])
    state[STEPS] += 1
    v = np.int64(nodes[f, 0])
    high, g0 = np.int64(nodes[f, 2]), g
    if nodes[g, 0] == v:
        high = without(nodes, buckets, cache, weight, state, high, np.int64(nodes[g, 2]))
        g0 = np.int64(nodes[g, 1])
    high = without(nodes, buckets, cache, weight, state, high, g0)
    low = without(nodes, buckets, cache, weight, state, np.int64(nodes[f, 1]), g0)
    result = make(nodes, buckets, cache, weight, state, v, low, high)
    return _remember(cache, slot, key, f, g, result)


@njit(f"int64({_TABLES}, int64, int64)", cache=True, nogil=True)
def union(nodes, buckets, cache, weight, state, f, g):
    """Minimal sets of f and g together; f and g hold minimal sets only."""
    if f < 0 or g < 0:
        return np.int64(STOPPED)
    if f == 0 or f == g or g == 1:
        return g
    if g == 0 or f == 1:
        return f
    if f > g:
        f, g = g, f
    key = _UNION + 1
    slot = _slot(key, f, g, cache.shape[0] - 1)
    if cache[slot, 0] == key and cache[slot, 1] == f and cache[slot, 2] == g:
        return np.int64(cache[slot, 3])
    state[STEPS] += 1
    fv, gv = nodes[f, 0], nodes[g, 0]
    v = min(fv, gv)
    f0, f1 = (np.int64(nodes[f, 1]), np.int64(nodes[f, 2])) if fv == v else (f, np.int64(0))
    g0, g1 = (np.int64(nodes[g, 1]), np.int64(nodes[g, 2])) if gv == v else (g, np.int64(0))
    low = union(nodes, buckets, cache, weight, state, f0, g0)
    high = union(nodes, buckets, cache, weight, state, f1, g1)
    high = without(nodes, buckets, cache, weight, state, high, low)
    result = make(nodes, buckets, cache, weight, state, np.int64(v), low, high)
    return _remember(cache, slot, key, f, g, result)


@njit(f"int64({_TABLES}, int64, int64)", cache=True, nogil=True)
def keep(nodes, buckets, cache, weight, state, f, most):
    """The sets of f whose weight is `most` or less."""
    if nodes[f, 5] <= most:
        return f
    if nodes[f, 4] > most:
        return np.int64(0)
    key = _KEEP + 1
    slot = _slot(key, f, most, cache.shape[0] - 1)
    if cache[slot, 0] == key and cache[slot, 1] == f and cache[slot, 2] == most:
        return np.int64(cache[slot, 3])
    state[STEPS] += 1
    v = np.int64(nodes[f, 0])
    low = keep(nodes, buckets, cache, weight, state, np.int64(nodes[f, 1]), most)
    high = keep(nodes, buckets, cache, weight, state, np.int64(nodes[f, 2]), most - weight[v])
    result = make(nodes, buckets, cache, weight, state, v, low, high)
    return _remember(cache, slot, key, f, most, result)


@njit(f"int64({_TABLES}, int64, int64, int64)", cache=True, nogil=True)
def product(nodes, buckets, cache, weight, state, f, g, most):
    """Minimal unions of a set of f and a set of g; all pairs count whose weights add up to `most` or less.

    f and g hold minimal sets only. A union is given if its weight is `most` or less; lighter than
    the sum of the two it can be where they share variables.
    """
    if f < 0 or g < 0:
        return STOPPED
    if f == 0 or g == 0 or nodes[f, 4] > most or nodes[g, 4] > most:
        return np.int64(0)
    if f == 1 or f == g:  # the minimal sets of f times f are those of f
        return keep(nodes, buckets, cache, weight, state, g, most)
    if g == 1:
        return keep(nodes, buckets, cache, weight, state, f, most)
    if f > g:
        f, g = g, f
    key = _PRODUCT + 1 + most * 8
    slot = _slot(key, f, g, cache.shape[0] - 1)
    if cache[slot, 0] == key and cache[slot, 1] == f and cache[slot, 2] == g:
        return np.int64(cache[slot, 3])
    state[STEPS] += 1
    fv, gv = nodes[f, 0], nodes[g, 0]
    v = np.int64(min(fv, gv))
    f0, f1 = (np.int64(nodes[f, 1]), np.int64(nodes[f, 2])) if fv == v else (f, np.int64(0))
    g0, g1 = (np.int64(nodes[g, 1]), np.int64(nodes[g, 2])) if gv == v else (g, np.int64(0))
    rest = most - weight[v]
    high = np.int64(0)
    if f1 != 0 and rest >= 0:
        either = union(nodes, buckets, cache, weight, state, g0, g1) if g1 != 0 else g0
        high = product(nodes, buckets, cache, weight, state, f1, either, rest)
    if g1 != 0 and rest >= 0 and high >= 0:
        other = product(nodes, buckets, cache, weight, state, f0, g1, rest)
        high = union(nodes, buckets, cache, weight, state, high, other)
    low = product(nodes, buckets, cache, weight, state, f0, g0, most)
    high = without(nodes, buckets, cache, weight, state, high, low)
    result = make(nodes, buckets, cache, weight, state, v, low, high)
    return _remember(cache, slot, key, f, g, result)


@njit("int64(int32[:, ::1], int64, int32[::1], int32[::1])", cache=True, nogil=True)
def list_below(nodes, root, place, out):
    """Write the rows that the root reaches, the two constants first, then in rising order; place[row] = index.

    place  int32[N], -1 everywhere at the start (the caller resets the rows listed)
    """
    count = 0
    place[0], place[1] = 0, 1
    out[0], out[1] = 0, 1
    count = 2
    if root > 1:
        place[root] = 2
        out[2] = root
        count = 3
    at = 2
    while at < count:
        for column in (1, 2):
            child = nodes[out[at], column]
            if place[child] < 0:
                place[child] = count
                out[count] = child
                count += 1
        at += 1
    out[2:count] = np.sort(out[2:count])
    for i in range(count):
        place[out[i]] = i
    return count


@njit(
    "void(int32[:, ::1], int32[::1], int64, int32[::1], int32[::1], float64[::1], float64[:, ::1])",
    cache=True,
    nogil=True,
)
def sum_by_weight(nodes, listed, count, place, weight, p, sums):
    """Sum of the products of p over the sets of each listed row, by weight of the set.

    sums  float64[count, W + 1]  written; weights above W are added to the last column
    """
    sums[:count] = 0.0
    sums[1, 0] = 1.0
    top = sums.shape[1] - 1
    for i in range(2, count):
        n = listed[i]
        v, low, high = nodes[n, 0], place[nodes[n, 1]], place[nodes[n, 2]]
        w, q = weight[v], p[v]
        for k in range(top + 1):
            sums[i, k] += sums[low, k]
            sums[i, min(k + w, top)] += q * sums[high, k]


@njit("void(int32[:, ::1], int32[::1], int64)", cache=True, nogil=True)
def rehash(nodes, buckets, count):
    """Chain the nodes into empty buckets."""
    mask = buckets.shape[0] - 1
    for n in range(2, count):
        v, low, high = np.int64(nodes[n, 0]), np.int64(nodes[n, 1]), np.int64(nodes[n, 2])
        slot = ((low * _HASH_A + high * _HASH_B + v * _HASH_C) >> 29) & mask
        nodes[n, 3] = buckets[slot]
        buckets[slot] = n


@njit("void(int32[:, ::1], int32[:, ::1])", cache=True, nogil=True)
def rehash_cache(old, new):
    """Move remembered results to a larger cache; an empty row has key 0."""
    mask = new.shape[0] - 1
    for row in range(old.shape[0]):
        if old[row, 0] != 0:
            slot = _slot(np.int64(old[row, 0]), np.int64(old[row, 1]), np.int64(old[row, 2]), mask)
            for column in range(4):
                new[slot, column] = old[row, column]
