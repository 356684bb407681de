"""Loops that find elimination orders of a graph whose rows are bit sets.

adjacent  uint64[n, W]  bit u of row v: v and u are tied; symmetric, no vertex tied to itself
order     int64[n]      written: the vertices in the order in which they are eliminated
ties      int64[n]      written: how many vertices order[i] was tied to when it went
"""

# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, no-check-untyped-defs

from __future__ import annotations

import numpy as np
from numba import njit

_M1, _M2, _M4 = np.uint64(0x5555555555555555), np.uint64(0x3333333333333333), np.uint64(0x0F0F0F0F0F0F0F0F)
_ONES = np.uint64(0x0101010101010101)
_1, _2, _4, _56 = np.uint64(1), np.uint64(2), np.uint64(4), np.uint64(56)


@njit(cache=True, nogil=True, inline="always")
def _count_bits(x):
    x = x - ((x >> _1) & _M1)
    x = (x & _M2) + ((x >> _2) & _M2)
    x = (x + (x >> _4)) & _M4
    return np.int64((x * _ONES) >> _56)


@njit("int64(uint64[::1], int64[::1])", cache=True, nogil=True)
def list_members(row, out):
    """Write the members of a bit set, rising; returns how many."""
    count = 0
    for w in range(row.shape[0]):
        x = row[w]
        while x != 0:
            lowest = x & (~x + _1)
            out[count] = w * 64 + _count_bits(lowest - _1)
            count += 1
            x ^= lowest
    return count


@njit("int64(uint64[:, ::1], int64, int64[::1])", cache=True, nogil=True)
def count_missing_ties(adjacent, v, members):
    """Pairs of neighbours of v that are not tied: the fill-in of eliminating v."""
    count = list_members(adjacent[v], members)
    missing = 0
    for i in range(count):
        u = members[i]
        shared = 0
        for w in range(adjacent.shape[1]):
            shared += _count_bits(adjacent[v, w] & adjacent[u, w])
        missing += count - 1 - shared
    return missing // 2


@njit("void(uint64[:, ::1], float64[::1], float64, int64[::1], int64[::1])", cache=True, nogil=True)
def eliminate_greedily(adjacent, noise, strength, order, ties):
    """Eliminate all vertices, each time one of least fill-in per neighbour; `adjacent` is used up.

    noise  float64[n]  within [0, 1]; `strength` is the share of a score that it may add
    """
    n = adjacent.shape[0]
    alive = np.ones(n, np.bool_)
    changed = np.zeros(n, np.bool_)
    score = np.empty(n)
    members, others = np.empty(n, np.int64), np.empty(n, np.int64)
    for v in range(n):
        changed[v] = True
    for step in range(n):
        best = -1
        for v in range(n):
            if changed[v]:
                changed[v] = False
                missing = count_missing_ties(adjacent, v, members)
                count = list_members(adjacent[v], members)
                score[v] = missing * (1.0 + strength * noise[v]) / (count + 1.0) + 1e-3 * noise[v]
                if missing == 0:
                    score[v] -= 1.0
            if alive[v] and (best < 0 or score[v] < score[best]):
                best = v
        alive[best] = False
        order[step] = best
        count = list_members(adjacent[best], members)
        ties[step] = count
        for i in range(count):
            u = members[i]
            grew = False
            for w in range(adjacent.shape[1]):
                united = adjacent[u, w] | adjacent[best, w]
                grew |= united != adjacent[u, w]
                adjacent[u, w] = united
            adjacent[u, u >> 6] &= ~(_1 << np.uint64(u & 63))
            adjacent[u, best >> 6] &= ~(_1 << np.uint64(best & 63))
            changed[u] = True
            if grew:
                other_count = list_members(adjacent[u], others)
                for j in range(other_count):
                    changed[others[j]] = True
