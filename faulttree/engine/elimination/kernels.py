"""Loops over algebraic decision diagrams: functions of 0/1 variables with numbers at the leaves.

A reference is an int: r >= 0 is a node, r < 0 is leaf ~r. Leaf 0 is the number 0, leaf 1 the number 1.
Levels are numbered from the top; the variables that are summed out first lie at the bottom, so
"sum out" always means "everything from level `CUT` down".

nodes         int32[N, 4]  level, low, high, next node of the same bucket; children first
means         float64[N]   weighted sum of the node's function over all levels from its own down
buckets       int32[B]     first node of each hash bucket, -1 = none; B is a power of two
leaves        float64[L]   numbers, no two with the same bits
leaf_next     int32[L]     next leaf of the same bucket
leaf_buckets  int32[M]     first leaf of each hash bucket, -1 = none; M is a power of two
cache         int32[C, 4]  f, g, serial number of the operation, result; C is a power of two
sum_cache     int32[C, 3]  f, g, serial number of the operation
sums          float64[C]   remembered weighted sum of f * g
stack         int32[D, 8]  a pending call: f, g, high of f, high of g, level, 1 once its low part is done,
                           result of the low part
low_sums      float64[D]   result of the low part below the cut; the last place keeps a number over a pause
weights       float64[V, 2]  weight of "level is 0" and "level is 1"; the two add up to 1
state         int64[16]    see the names below; lets a stopped call go on after the caller grew a table

Because the weights of a level add up to 1, a level that a function skips needs no correction.
"""

# mypy: allow-untyped-defs, allow-untyped-calls, allow-untyped-decorators, no-check-untyped-defs

from __future__ import annotations

import numpy as np
from numba import njit

DONE, FULL, PAUSED = 0, 1, 2

COUNT = 0  # nodes in use
LEAVES = 1  # leaves in use
DEPTH = 2  # rows of the stack in use
HAVE = 3  # 1 when a result waits to be handed to the top row of the stack
F, G, RESULT = 4, 5, 6
FUEL = 7  # cache misses left before the call pauses
CUT = 8  # first level that is summed out
SERIAL = 9  # number of the operation

ZERO, ONE = -1, -2
LEAF_LEVEL = 1 << 30
PENDING = -(1 << 31)

_HASH_A, _HASH_B, _HASH_C = 0x9E3779B97F4A7C15 - (1 << 64), 0x2545F4914F6CDD1D, 0x632BE59BD9B4E019


@njit(cache=True, nogil=True, inline="always")
def _pair_slot(f, g, mask):
    return ((f * _HASH_A + g * _HASH_B) >> 29) & mask


@njit(cache=True, nogil=True, inline="always")
def _node_slot(level, low, high, mask):
    return ((low * _HASH_A + high * _HASH_B + level * _HASH_C) >> 29) & mask


@njit(cache=True, nogil=True, inline="always")
def _leaf_slot(bits, mask):
    return ((bits * _HASH_A) >> 31) & mask


@njit("int64(float64[::1], int64[::1], int32[::1], int32[::1], int64[::1], float64)", cache=True, nogil=True)
def find_leaf(leaves, bits, leaf_next, leaf_buckets, state, value):
    """Reference of the leaf with this number, made if need be; PENDING when there is no room.

    bits  int64[L], the same memory as `leaves`
    """
    count = state[LEAVES]
    if value == 0.0:
        return np.int64(ZERO)
    if count == leaves.shape[0]:
        return np.int64(PENDING)
    leaves[count] = value  # its bits are read through the other view; stays only if it is new
    slot = _leaf_slot(bits[count], leaf_buckets.shape[0] - 1)
    leaf = np.int64(leaf_buckets[slot])
    while leaf >= 0 and bits[leaf] != bits[count]:
        leaf = np.int64(leaf_next[leaf])
    if leaf < 0:
        leaf = count
        leaf_next[leaf] = leaf_buckets[slot]
        leaf_buckets[slot] = leaf
        state[LEAVES] = count + 1
    return ~leaf


@njit(
    "int64(int32[:, ::1], float64[::1], int32[::1], float64[::1], float64[:, ::1], int64[::1], int64, int64, int64)",
    cache=True,
    nogil=True,
)
def find_node(nodes, means, buckets, leaves, weights, state, level, low, high):
    """Reference of the node with these fields, made if need be; PENDING when there is no room."""
    if low == high:
        return low
    slot = _node_slot(level, low, high, buckets.shape[0] - 1)
    node = np.int64(buckets[slot])
    while node >= 0 and (nodes[node, 1] != low or nodes[node, 2] != high or nodes[node, 0] != level):
        node = np.int64(nodes[node, 3])
    if node < 0:
        node = state[COUNT]
        if node == nodes.shape[0]:
            return np.int64(PENDING)
        state[COUNT] = node + 1
        nodes[node, 0] = level
        nodes[node, 1] = low
        nodes[node, 2] = high
        nodes[node, 3] = buckets[slot]
        buckets[slot] = node
        low_mean = means[low] if low >= 0 else leaves[~low]
        high_mean = means[high] if high >= 0 else leaves[~high]
        means[node] = weights[level, 0] * low_mean + weights[level, 1] * high_mean
    return node


@njit(
    "int64(int32[:, ::1], float64[::1], int32[::1], float64[::1], int64[::1], int32[::1], int32[::1],"
    "int32[:, ::1], int32[:, ::1], float64[::1], int32[:, ::1], float64[::1], float64[:, ::1], int64[::1])",
    cache=True,
    nogil=True,
)
def multiply_and_sum(
    nodes, means, buckets, leaves, bits, leaf_next, leaf_buckets,
    cache, sum_cache, sums, stack, low_sums, weights, state,
):  # fmt: skip
    """Compute into RESULT the sum, over the levels from CUT down, of F * G.

    Above the cut nodes are made; below it a call gives a plain number, so the product is never built.
    """
    depth, have, fuel = state[DEPTH], state[HAVE], state[FUEL]
    f, g, result = state[F], state[G], state[RESULT]
    cut, serial = state[CUT], state[SERIAL]
    mask = cache.shape[0] - 1
    sum_mask = sum_cache.shape[0] - 1
    status = DONE
    value = low_sums[low_sums.shape[0] - 1]  # a number on its way up survives a pause here
    while True:
        if have == 0:
            if f > g:
                f, g = g, f  # leaves first
            have = 1
            if f == ZERO:
                result, value = np.int64(ZERO), 0.0
            elif g < 0:
                value = leaves[~f] * leaves[~g]
                result = np.int64(PENDING)
            else:
                f_level = np.int64(nodes[f, 0]) if f >= 0 else np.int64(LEAF_LEVEL)
                g_level = np.int64(nodes[g, 0])
                level = min(f_level, g_level)
                if level >= cut and f < 0:
                    value = leaves[~f] * means[g]
                    result = np.int64(PENDING)
                elif f == ONE and cut == LEAF_LEVEL:
                    result = g
                else:
                    slot = _pair_slot(f, g, mask if level < cut else sum_mask)
                    hit = False
                    if level < cut:
                        if cache[slot, 0] == f and cache[slot, 1] == g and cache[slot, 2] == serial:
                            result = np.int64(cache[slot, 3])
                            hit = True
                    elif sum_cache[slot, 0] == f and sum_cache[slot, 1] == g and sum_cache[slot, 2] == serial:
                        value = sums[slot]
                        result = np.int64(PENDING)
                        hit = True
                    if not hit:
                        have = 0
                        if fuel == 0:
                            status = PAUSED
                            break
                        fuel -= 1
                        f0, f1, g0, g1 = f, f, g, g
                        if f_level == level:
                            f0, f1 = np.int64(nodes[f, 1]), np.int64(nodes[f, 2])
                        if g_level == level:
                            g0, g1 = np.int64(nodes[g, 1]), np.int64(nodes[g, 2])
                        stack[depth, 0] = f
                        stack[depth, 1] = g
                        stack[depth, 2] = f1
                        stack[depth, 3] = g1
                        stack[depth, 4] = level
                        stack[depth, 5] = 0  # nothing done yet
                        depth += 1
                        f, g = f0, g0
                        continue
        # a result is here: a reference, or a number in `value` when it is PENDING
        top = depth - 1
        if depth == 0 or stack[top, 4] < cut:
            if result == PENDING:  # a number enters the diagram
                result = find_leaf(leaves, bits, leaf_next, leaf_buckets, state, value)
                if result == PENDING:
                    status = FULL
                    break
            if depth == 0:
                break
            if stack[top, 5] == 0:
                stack[top, 5] = 1
                stack[top, 6] = result
                f, g = np.int64(stack[top, 2]), np.int64(stack[top, 3])
                have = 0
                continue
            made = find_node(
                nodes, means, buckets, leaves, weights, state, np.int64(stack[top, 4]), np.int64(stack[top, 6]), result
            )
            if made == PENDING:
                status = FULL
                break
            f, g = np.int64(stack[top, 0]), np.int64(stack[top, 1])
            slot = _pair_slot(f, g, mask)
            cache[slot, 0] = f
            cache[slot, 1] = g
            cache[slot, 2] = serial
            cache[slot, 3] = made
            result = made
            depth = top
            continue
        if stack[top, 5] == 0:
            stack[top, 5] = 1
            low_sums[top] = value
            f, g = np.int64(stack[top, 2]), np.int64(stack[top, 3])
            have = 0
            continue
        level = np.int64(stack[top, 4])
        value = weights[level, 0] * low_sums[top] + weights[level, 1] * value
        f, g = np.int64(stack[top, 0]), np.int64(stack[top, 1])
        slot = _pair_slot(f, g, sum_mask)
        sum_cache[slot, 0] = f
        sum_cache[slot, 1] = g
        sum_cache[slot, 2] = serial
        sums[slot] = value
        result = np.int64(PENDING)
        depth = top
    low_sums[low_sums.shape[0] - 1] = value
    state[DEPTH], state[HAVE], state[FUEL] = depth, have, fuel
    state[F], state[G], state[RESULT] = f, g, result
    return status


@njit("void(int32[:, ::1], int32[::1], int64)", cache=True, nogil=True)
def rehash_nodes(nodes, buckets, count):
    """Chain the nodes into buckets that are all -1."""
    mask = buckets.shape[0] - 1
    for node in range(count):
        slot = _node_slot(np.int64(nodes[node, 0]), np.int64(nodes[node, 1]), np.int64(nodes[node, 2]), mask)
        nodes[node, 3] = buckets[slot]
        buckets[slot] = node


@njit("void(int64[::1], int32[::1], int32[::1], int64)", cache=True, nogil=True)
def rehash_leaves(bits, leaf_next, leaf_buckets, count):
    """Chain the leaves, but for the number 0, into buckets that are all -1."""
    mask = leaf_buckets.shape[0] - 1
    for leaf in range(1, count):
        slot = _leaf_slot(bits[leaf], mask)
        leaf_next[leaf] = leaf_buckets[slot]
        leaf_buckets[slot] = leaf


@njit("void(int32[:, ::1], float64[::1], float64[::1], int32[::1], int32[::1], int64[::1])", cache=True, nogil=True)
def compact(nodes, means, leaves, moved, leaf_moved, state):
    """Drop the nodes and leaves that no root reaches, in place, in order.

    moved       int32[COUNT]   1 for roots and 0 otherwise; written: new number, -1 when dropped
    leaf_moved  int32[LEAVES]  the same for leaves
    """
    for node in range(state[COUNT] - 1, -1, -1):  # children have smaller numbers
        if moved[node]:
            for column in (1, 2):
                child = nodes[node, column]
                if child >= 0:
                    moved[child] = 1
                else:
                    leaf_moved[~child] = 1
    leaf_moved[0] = leaf_moved[1] = 1
    kept = 0
    for leaf in range(state[LEAVES]):
        if leaf_moved[leaf]:
            leaves[kept] = leaves[leaf]
            leaf_moved[leaf] = kept
            kept += 1
        else:
            leaf_moved[leaf] = -1
    state[LEAVES] = kept
    kept = 0
    for node in range(state[COUNT]):
        if moved[node]:
            nodes[kept, 0] = nodes[node, 0]
            for column in (1, 2):
                child = nodes[node, column]
                nodes[kept, column] = moved[child] if child >= 0 else ~leaf_moved[~child]
            means[kept] = means[node]
            moved[node] = kept
            kept += 1
        else:
            moved[node] = -1
    state[COUNT] = kept


@njit("int64(int32[:, ::1], int64, uint8[::1])", cache=True, nogil=True)
def count_below(nodes, root, seen):
    """Number of nodes that a reference reaches, in time proportional to it.

    seen  uint8[N]  all 0 before and after
    """
    if root < 0:
        return 0
    found = np.empty(64, np.int32)  # the nodes reached so far; those from `at` on still to be opened
    found[0] = root
    seen[root] = 1
    count, at = 1, 0
    while at < count:
        if count + 2 > found.shape[0]:
            larger = np.empty(2 * found.shape[0], np.int32)
            larger[:count] = found[:count]
            found = larger
        for column in (1, 2):
            child = nodes[found[at], column]
            if child >= 0 and not seen[child]:
                seen[child] = 1
                found[count] = child
                count += 1
        at += 1
    for i in range(count):
        seen[found[i]] = 0
    return count
