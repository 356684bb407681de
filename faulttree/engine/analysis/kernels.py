"""Loops that evaluate frozen diagrams; all arrays are checked by the callers.

rows     int32[N, 3]    variable, low edge, high edge of a binary diagram; children first, row 0 false
true     float64[V]     probability that input v is true
false    float64[V]     probability that it is false (given apart, so that small values keep all digits)
holds    float64[N]     probability that the function of a row is true
fails    float64[N]     probability that it is false
family   int32[N, 3]    variable, low row, high row of a zero-suppressed diagram; rows 0, 1 constant

Every value is a sum of products of non-negative numbers, so no digits cancel. O(N) each.
"""

from __future__ import annotations

import numpy as np
from numba import njit


@njit("void(int32[:, ::1], float64[::1], float64[::1], float64[::1], float64[::1])", cache=True, nogil=True)
def node_probabilities(rows, true, false, holds, fails):
    """Probability of every row, by Shannon expansion on its variable (Bryant 1986)."""
    holds[0], fails[0] = 0.0, 1.0
    for n in range(1, rows.shape[0]):
        v, low, high = rows[n, 0], rows[n, 1] >> 1, rows[n, 2] >> 1  # the low edge is never negated
        high_holds, high_fails = holds[high], fails[high]
        if rows[n, 2] & 1:
            high_holds, high_fails = high_fails, high_holds
        holds[n] = false[v] * holds[low] + true[v] * high_holds
        fails[n] = false[v] * fails[low] + true[v] * high_fails


@njit(
    "void(int32[:, ::1], float64[::1], float64[::1], float64[::1], float64[::1], float64[:, ::1], float64[:, ::1])",
    cache=True,
    nogil=True,
)
def condition_on_inputs(rows, true, false, holds, fails, weight, out):
    """Split the root's probability by the value of each input.

    weight  float64[N, 2]  scratch: probability of reaching a row by an even or odd number of negations
    out     float64[V, 3]  written: P(root and way through v | v true), the same | v false, P(root and way through v)
    """
    weight[:] = 0.0
    out[:] = 0.0
    weight[rows.shape[0] - 1, 0] = 1.0
    for n in range(rows.shape[0] - 1, 0, -1):
        even, odd = weight[n, 0], weight[n, 1]
        if even == 0.0 and odd == 0.0:
            continue
        v, low, high, sign = rows[n, 0], rows[n, 1] >> 1, rows[n, 2] >> 1, rows[n, 2] & 1
        weight[low, 0] += even * false[v]
        weight[low, 1] += odd * false[v]
        weight[high, sign] += even * true[v]
        weight[high, 1 - sign] += odd * true[v]
        high_holds, high_fails = holds[high], fails[high]
        if sign:
            high_holds, high_fails = high_fails, high_holds
        out[v, 0] += even * high_holds + odd * high_fails
        out[v, 1] += even * holds[low] + odd * fails[low]
        out[v, 2] += even * holds[n] + odd * fails[n]


@njit("void(int32[:, ::1], float64[:, ::1], float64[:, ::1])", cache=True, nogil=True)
def batch_probabilities(rows, true, holds):
    """Probability of every row for many sets of inputs at once.

    true   float64[V, S]
    holds  float64[N, S]  written
    """
    samples = true.shape[1]
    holds[0, :] = 0.0
    for n in range(1, rows.shape[0]):
        v, low, high = rows[n, 0], rows[n, 1] >> 1, rows[n, 2] >> 1
        if rows[n, 2] & 1:
            for s in range(samples):
                holds[n, s] = holds[low, s] + true[v, s] * ((1.0 - holds[high, s]) - holds[low, s])
        else:
            for s in range(samples):
                holds[n, s] = (1.0 - true[v, s]) * holds[low, s] + true[v, s] * holds[high, s]


@njit("void(int32[:, ::1], float64[::1], float64[::1])", cache=True, nogil=True)
def sum_products(family, p, total):
    """Sum over the sets of each row of the product of p over their members."""
    total[0], total[1] = 0.0, 1.0
    for n in range(2, family.shape[0]):
        total[n] = total[family[n, 1]] + p[family[n, 0]] * total[family[n, 2]]


@njit("void(int32[:, ::1], int64, float64[::1], float64[::1], float64[::1], float64[::1])", cache=True, nogil=True)
def sum_products_by_input(family, root, p, total, weight, out):
    """Derivative of the root's sum of products by each p; `total` comes from sum_products."""
    weight[:] = 0.0
    out[:] = 0.0
    weight[root] = 1.0
    for n in range(root, 1, -1):
        w = weight[n]
        if w != 0.0:
            v = family[n, 0]
            weight[family[n, 1]] += w
            weight[family[n, 2]] += w * p[v]
            out[v] += w * total[family[n, 2]]


@njit("void(int32[:, ::1], float64[::1], float64[::1])", cache=True, nogil=True)
def largest_products(family, p, best):
    """Largest product of p over any set of each row; -1 where a row has no set."""
    best[0], best[1] = -1.0, 1.0
    for n in range(2, family.shape[0]):
        high = best[family[n, 2]]
        with_v = p[family[n, 0]] * high if high >= 0.0 and p[family[n, 0]] >= 0.0 else -1.0
        best[n] = max(best[family[n, 1]], with_v)


@njit("void(int32[:, ::1], int64[::1], int64[::1])", cache=True, nogil=True)
def smallest_orders(family, size, least):
    """Fewest members of any set of each row, inputs counting size[v]; 2**40 where there is no set."""
    none = np.int64(1) << 40
    least[0], least[1] = none, 0
    for n in range(2, family.shape[0]):
        least[n] = min(least[family[n, 1]], least[family[n, 2]] + size[family[n, 0]], none)
