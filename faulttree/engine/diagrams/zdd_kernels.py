"""Loops over zero-suppressed diagrams: families of sets, here minimal cut sets.

A family is a node number: 0 is the empty family, 1 the family of the empty set alone; any other
node stands for the sets of `low` together with the sets of `high`, each with the node's variable
added. Rows, buckets, cache and state are as in bdd_kernels.py.

stack    int32[D, 8]  a pending call: f, g, variable, high of f, high of g, low of g, low result, phase
rows     int32[N, 3]  a frozen binary diagram: variable, low edge, high edge; children first
needed   uint8[2N]    edges whose minimal solutions are wanted
family   int32[2N]    written: family of the minimal solutions of each needed edge
"""

from __future__ import annotations

import numpy as np
from numba import njit

from faulttree.engine.diagrams.bdd_kernels import (
    COUNT,
    DEPTH,
    DONE,
    FUEL,
    FULL,
    HAVE,
    NO_ROOM,
    PAUSED,
    RESULT,
    F,
    G,
    _pair_slot,
    conjoin,
    find_or_add,
)

NEXT = 7  # edge whose minimal solutions are being computed

_LOW, _HIGH_BY_HIGH, _HIGH_BY_LOW = 0, 1, 2


@njit("int64(int32[:, ::1], int32[::1], int32[:, ::1], int32[:, ::1], int64[::1])", cache=True, nogil=True)
def subtract_covered(nodes, buckets, cache, stack, state):
    """Compute into RESULT the sets of family F that contain no set of family G."""
    count, depth, have = state[COUNT], state[DEPTH], state[HAVE]
    f, g, result, fuel = state[F], state[G], state[RESULT], state[FUEL]
    cache_mask = cache.shape[0] - 1
    status = DONE
    while True:
        if have == 0:
            if f > 1 and g > 1:
                while nodes[g, 0] < nodes[f, 0]:  # sets of g with a variable that f lacks cover nothing
                    g = np.int64(nodes[g, 1])
            if f == 0 or g == 1 or f == g:
                result = 0
            elif g == 0 or f == 1:
                result = f
            else:
                slot = _pair_slot(f, g, cache_mask)
                if cache[slot, 0] == f and cache[slot, 1] == g:
                    result = np.int64(cache[slot, 2])
                else:
                    if fuel == 0:
                        status = PAUSED
                        break
                    fuel -= 1
                    variable = nodes[f, 0]
                    g_low, g_high = g, np.int64(0)
                    if nodes[g, 0] == variable:
                        g_low, g_high = np.int64(nodes[g, 1]), np.int64(nodes[g, 2])
                    stack[depth, 0] = f
                    stack[depth, 1] = g
                    stack[depth, 2] = variable
                    stack[depth, 3] = nodes[f, 2]
                    stack[depth, 4] = g_high
                    stack[depth, 5] = g_low
                    stack[depth, 7] = _LOW
                    depth += 1
                    f, g = np.int64(nodes[f, 1]), g_low
                    continue
        have = 1
        if depth == 0:
            break
        top = depth - 1
        phase = stack[top, 7]
        if phase != _HIGH_BY_LOW:
            if phase == _LOW:
                stack[top, 6] = result
                result = np.int64(stack[top, 3])
            if phase == _LOW and stack[top, 4] != 0:
                f, g = result, np.int64(stack[top, 4])
                stack[top, 7] = _HIGH_BY_HIGH
            else:
                f, g = result, np.int64(stack[top, 5])
                stack[top, 7] = _HIGH_BY_LOW
            have = 0
            continue
        variable, low = np.int64(stack[top, 2]), np.int64(stack[top, 6])
        made = low
        if result != 0:
            node = find_or_add(nodes, buckets, count, variable, low, result)
            if node == NO_ROOM:
                status = FULL
                break
            count = max(count, node + 1)
            made = node
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


@njit("void(int32[:, ::1], uint8[::1])", cache=True, nogil=True)
def mark_needed(rows, needed):
    """Spread `needed` from edges to the edges below them; children have smaller numbers."""
    for edge in range(needed.shape[0] - 1, 1, -1):
        if needed[edge]:
            sign = edge & 1
            needed[rows[edge >> 1, 1] ^ sign] = 1
            needed[rows[edge >> 1, 2] ^ sign] = 1


@njit(
    "int64(int32[:, ::1], uint8[::1], int32[::1], int32[:, ::1], int32[::1], int32[:, ::1], int32[:, ::1], int64[::1])",
    cache=True,
    nogil=True,
)
def solve_minimal(rows, needed, family, nodes, buckets, cache, stack, state):
    """Minimal solutions of every needed edge, children first, going on from state[NEXT].

    With F = ite(x, H, L): the minimal solutions without x are those of L; those with x are the
    ones of H that contain none of L. Source: Rauzy 1993, "New algorithms for fault trees analysis";
    for functions that are not monotone this gives the minimal cut sets of Rauzy 2001.
    """
    for edge in range(state[NEXT], family.shape[0]):
        state[NEXT] = edge
        if not needed[edge] or edge < 2:
            continue
        sign = edge & 1
        low = np.int64(family[rows[edge >> 1, 1] ^ sign])
        if state[HAVE] == 0 and state[DEPTH] == 0:
            state[F], state[G] = np.int64(family[rows[edge >> 1, 2] ^ sign]), low
        status = subtract_covered(nodes, buckets, cache, stack, state)
        if status != DONE:
            return status
        high = state[RESULT]
        made = low
        if high != 0:
            variable = np.int64(rows[edge >> 1, 0])
            node = find_or_add(nodes, buckets, state[COUNT], variable, low, high)
            if node == NO_ROOM:
                return FULL
            state[COUNT] = max(state[COUNT], node + 1)
            made = node
        family[edge] = made
        state[HAVE] = state[DEPTH] = 0
    return DONE


@njit(
    "int64(int32[:, ::1], int64, int64[::1], int64[::1], int32[:, ::1], int32[::1], int32[:, ::1], int32[:, ::1],"
    "int64[::1])",
    cache=True,
    nogil=True,
)
def unite_sets(rows, wanted, union, out, nodes, buckets, cache, stack, state):
    """Edge, in a binary diagram's table, of "some set of the row occurred", for every row of a family.

    wanted < 0 takes every set; otherwise only sets with the input `wanted` count, and that input is
    left out of them: `union` must then hold the edges of an earlier call for every set.
    """
    for row in range(state[NEXT], rows.shape[0]):
        state[NEXT] = row
        if row < 2:
            out[row] = row if wanted < 0 else 0
            continue
        variable = np.int64(rows[row, 0])
        if wanted >= 0 and variable >= wanted:
            out[row] = union[rows[row, 2]] if variable == wanted else 0
            continue
        low, high = out[rows[row, 1]], out[rows[row, 2]]
        if state[HAVE] == 0 and state[DEPTH] == 0:
            state[F], state[G] = low ^ 1, high ^ 1
        status = conjoin(nodes, buckets, cache, stack, state)
        if status != DONE:
            return status
        either = state[RESULT] ^ 1
        made = low
        if either != low:
            node = find_or_add(nodes, buckets, state[COUNT], variable, low, either)
            if node == NO_ROOM:
                return FULL
            state[COUNT] = max(state[COUNT], node + 1)
            made = 2 * node
        out[row] = made
        state[HAVE] = state[DEPTH] = 0
    return DONE
