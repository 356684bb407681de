"""Loops over the node table of a binary decision diagram with complement edges.

An edge is `2 * node + sign`; node 0 is the constant, so edge 0 is false and edge 1 is true. The
low edge of a node is never negated, hence a function is false in the state "nothing occurred"
exactly when its edge is even.

nodes    int32[N, 4]  a row a node: variable, low edge, high edge, next node of the same bucket
buckets  int32[B]     first node of each hash bucket, 0 = none; B is a power of two
cache    int32[C, 4]  a row a remembered result: f, g, result, unused; C is a power of two
stack    int32[D, 8]  a row a pending call: f, g, high of f, high of g, variable, low result or -1
state    int64[8]     see the names below; lets a stopped call go on after the caller grew a table

A call runs until it is done, the node table is full or its fuel is spent, and returns which.
"""

from __future__ import annotations

import numpy as np
from numba import njit

DONE, FULL, PAUSED = 0, 1, 2
NO_ROOM = np.int64(-1)

COUNT = 0  # nodes in use
DEPTH = 1  # rows of the stack in use
HAVE = 2  # 1 when RESULT waits to be handed to the top row of the stack
F, G, RESULT = 3, 4, 5
FUEL = 6  # cache misses left before the call pauses

_HASH_A, _HASH_B, _HASH_C = 0x9E3779B97F4A7C15 - (1 << 64), 0x2545F4914F6CDD1D, 0x632BE59BD9B4E019


@njit(cache=True, nogil=True, inline="always")
def _pair_slot(f, g, mask):
    return ((f * _HASH_A + g * _HASH_B) >> 29) & mask


@njit(cache=True, nogil=True, inline="always")
def _node_slot(variable, low, high, mask):
    return ((low * _HASH_A + high * _HASH_B + variable * _HASH_C) >> 29) & mask


@njit("int64(int32[:, ::1], int32[::1], int64, int64, int64, int64)", cache=True, nogil=True)
def find_or_add(nodes, buckets, count, variable, low, high):
    """Number of the row with these fields; `count` itself when it is new, NO_ROOM when it is new and the table full."""
    bucket = _node_slot(variable, low, high, buckets.shape[0] - 1)
    node = np.int64(buckets[bucket])
    while node != 0:
        if nodes[node, 1] == low and nodes[node, 2] == high and nodes[node, 0] == variable:
            return node
        node = np.int64(nodes[node, 3])
    if count == nodes.shape[0]:
        return NO_ROOM
    nodes[count, 0] = variable
    nodes[count, 1] = low
    nodes[count, 2] = high
    nodes[count, 3] = buckets[bucket]
    buckets[bucket] = count
    return count


@njit("int64(int32[:, ::1], int32[::1], int32[:, ::1], int32[:, ::1], int64[::1])", cache=True, nogil=True)
def conjoin(nodes, buckets, cache, stack, state):
    """Compute the edge of F and G into RESULT."""
    count, depth, have = state[COUNT], state[DEPTH], state[HAVE]
    f, g, result, fuel = state[F], state[G], state[RESULT], state[FUEL]
    cache_mask = cache.shape[0] - 1
    status = DONE
    while True:
        if have == 0:
            if f > g:
                f, g = g, f
            if f == 0 or f ^ 1 == g:
                result = 0
            elif f == 1 or f == g:
                result = g
            else:
                slot = _pair_slot(f, g, cache_mask)
                if cache[slot, 0] == f and cache[slot, 1] == g:
                    result = np.int64(cache[slot, 2])
                else:
                    if fuel == 0:
                        status = PAUSED
                        break
                    fuel -= 1
                    fn, gn = f >> 1, g >> 1
                    fs, gs = f & 1, g & 1
                    fv, gv = np.int64(nodes[fn, 0]), np.int64(nodes[gn, 0])
                    variable = fv if fv < gv else gv
                    f0, f1, g0, g1 = f, f, g, g
                    if fv == variable:
                        f0, f1 = nodes[fn, 1] ^ fs, nodes[fn, 2] ^ fs
                    if gv == variable:
                        g0, g1 = nodes[gn, 1] ^ gs, nodes[gn, 2] ^ gs
                    stack[depth, 0] = f
                    stack[depth, 1] = g
                    stack[depth, 2] = f1
                    stack[depth, 3] = g1
                    stack[depth, 4] = variable
                    stack[depth, 5] = -1
                    depth += 1
                    f, g = f0, g0
                    continue
        have = 1
        if depth == 0:
            break
        top = depth - 1
        low = np.int64(stack[top, 5])
        if low < 0:
            stack[top, 5] = result
            f, g = np.int64(stack[top, 2]), np.int64(stack[top, 3])
            have = 0
            continue
        variable = np.int64(stack[top, 4])
        if low == result:
            made = result
        else:
            sign = low & 1
            low, high = low ^ sign, result ^ sign
            node = find_or_add(nodes, buckets, count, variable, low, high)
            if node == NO_ROOM:
                status = FULL
                break
            count = max(count, node + 1)
            made = 2 * node + sign
        f, g = np.int64(stack[top, 0]), np.int64(stack[top, 1])
        slot = _pair_slot(f, g, cache_mask)
        cache[slot, 0] = f
        cache[slot, 1] = g
        cache[slot, 2] = made
        depth = top
        result = made
    state[COUNT], state[DEPTH], state[HAVE] = count, depth, have
    state[F], state[G], state[RESULT], state[FUEL] = f, g, result, fuel
    return status
