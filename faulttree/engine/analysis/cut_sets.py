"""What the families of minimal cut sets say: how many, which are likeliest, what they add up to."""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis import kernels
from faulttree.engine.analysis.probability import Vector, input_values
from faulttree.engine.diagrams.zdd import Family

MAX_STEPS = 5_000_000  # steps of the search for the likeliest sets
MAX_POWERS = 20_000
TIE = 2.0**-36  # relative difference below which two probabilities count as equal

Polynomial: TypeAlias = dict[int, int]
"""Number of sets by order, exact."""


def count_by_order(families: list[Family]) -> Polynomial:
    """Return the exact number of minimal cut sets of each order, as Python integers of any size."""
    counts: list[Polynomial] = []
    for family in families:
        rows: list[Polynomial] = [{}, {0: 1}]
        for variable, low, high in family.rows[2:].tolist():
            i = family.inputs[variable]
            with_variable = _times(rows[high], {1: 1} if i >= 0 else counts[~i])
            rows.append(_plus(rows[low], with_variable))
        counts.append(rows[family.root])
    return dict(sorted(counts[-1].items()))


def _plus(a: Polynomial, b: Polynomial) -> Polynomial:
    total = dict(a)
    for order, count in b.items():
        total[order] = total.get(order, 0) + count
    return total


def _times(a: Polynomial, b: Polynomial) -> Polynomial:
    if b == {1: 1}:
        return {order + 1: count for order, count in a.items()}
    product: Polynomial = {}
    for (order_a, count_a), (order_b, count_b) in itertools.product(a.items(), b.items()):
        product[order_a + order_b] = product.get(order_a + order_b, 0) + count_a * count_b
    return product


def sum_of_products(families: list[Family], p: Vector) -> tuple[float, Vector]:
    """Return the sum of the probabilities of all minimal cut sets (rare-event figure) and its derivative by each event.

    The sum is not a probability and can exceed 1. p : float64[V]; the derivative is float64[V].
    """
    totals = np.zeros(len(families))
    passes = []
    for j, family in enumerate(families):
        values = input_values(family.inputs, p, totals)
        total = np.empty(len(family.rows))
        kernels.sum_products(family.rows, values, total)
        totals[j] = total[family.root]
        passes.append((values, total))
    by_event, by_module = np.zeros(len(p)), np.zeros(len(families))
    by_module[-1] = 1.0
    for j in range(len(families) - 1, -1, -1):
        family, (values, total) = families[j], passes[j]
        weight, out = np.empty(len(family.rows)), np.empty(len(family.inputs))
        kernels.sum_products_by_input(family.rows, family.root, values, total, weight, out)
        for position, i in enumerate(family.inputs):
            if i >= 0:
                by_event[i] = by_module[j] * out[position]
            else:
                by_module[~i] = by_module[j] * out[position]
    return float(totals[-1]), by_event


def min_cut_upper_bound(families: list[Family], p: Vector) -> float | None:
    """Return 1 - product over all minimal cut sets of (1 - probability of the set).

    Without listing them: ln of the product is -sum over k of S_k / k, where S_k, the sum over the
    sets of the k-th power of their probability, is a sum of products over p**k. The rest after k
    terms is below S_k max/(k (1 - max)), with the likeliest set's probability max; terms are added
    until it no longer counts. None when the likeliest set is so near to 1 that this takes too long.
    """
    largest = largest_product(families, p)
    if largest <= 0.0:
        return 0.0
    if largest >= 1.0:
        return 1.0
    exponent = 0.0
    for k in range(1, MAX_POWERS + 1):
        power_sum = _sum_only(families, p**k)
        exponent += power_sum / k
        rest = power_sum * largest / (k * (1.0 - largest))
        if rest <= 1e-15 * exponent or exponent > 50.0:
            return float(-np.expm1(-exponent))
    return None


def _sum_only(families: list[Family], p: Vector) -> float:
    totals = np.zeros(len(families))
    for j, family in enumerate(families):
        total = np.empty(len(family.rows))
        kernels.sum_products(family.rows, input_values(family.inputs, p, totals), total)
        totals[j] = total[family.root]
    return float(totals[-1])


def largest_product(families: list[Family], p: Vector) -> float:
    """Probability of the likeliest minimal cut set; -1 when there is none."""
    return float(_largest(families, p)[1][-1])


def _largest(families: list[Family], p: Vector) -> tuple[list[Vector], Vector]:
    """Largest product of each row of each family, and of each family as a whole."""
    whole = np.full(len(families), -1.0)
    rows = []
    for j, family in enumerate(families):
        best = np.empty(len(family.rows))
        kernels.largest_products(family.rows, input_values(family.inputs, p, whole), best)
        whole[j] = best[family.root]
        rows.append(best)
    return rows, whole


def _smallest(families: list[Family], variables: int) -> list[NDArray[np.int64]]:
    """Fewest events of any set of each row of each family."""
    whole = np.zeros(len(families), np.int64)
    rows = []
    for j, family in enumerate(families):
        size = np.array([1 if i >= 0 else whole[~i] for i in family.inputs], np.int64)
        least = np.empty(len(family.rows), np.int64)
        kernels.smallest_orders(family.rows, size, least)
        whole[j] = least[family.root]
        rows.append(least)
    return rows


@dataclass(frozen=True, slots=True)
class _Pending:
    """Rows still to be walked through after the present one, innermost module first."""

    family: int
    row: int
    rest: _Pending | None
    best: float  # largest product of this and all the rest
    least: int  # fewest events of this and all the rest


@dataclass(frozen=True, slots=True)
class _Partial:
    """A set being put together: its members so far, their product, and what is still to be walked."""

    product: float
    members: tuple[int, ...]
    pending: _Pending | None

    @property
    def bound(self) -> float:
        """Largest product of any completion; below 0 when there is none."""
        if self.pending is None:
            return self.product
        return self.product * self.pending.best if self.pending.best >= 0.0 else -1.0

    @property
    def least(self) -> int:
        """Fewest events of any completion."""
        return len(self.members) + (0 if self.pending is None else self.pending.least)


def likeliest_sets(
    families: list[Family], p: Vector, count: int, *, max_order: int | None = None, min_probability: float = 0.0
) -> tuple[list[tuple[tuple[int, ...], float]], bool]:
    """Return the `count` likeliest minimal cut sets, likeliest first, and whether the list is complete as asked.

    Best-first search over partial sets; the bound of a partial set is the largest product that any
    completion reaches, which is exact without an order limit, so nothing but the wanted sets is
    walked through. With an order limit the search may be long: past MAX_STEPS it stops and says so.
    Sets of equal probability come in a fixed order.
    """
    search = _Search(families, p)
    limit = max_order if max_order is not None else len(p) + 1
    found: list[tuple[tuple[int, ...], float]] = []
    serial = itertools.count(step=-1)  # among equal bounds the newest first: goes deep, keeps the heap small

    def rank(partial: _Partial) -> tuple[float, int]:
        return -_round(partial.bound), next(serial)

    heap: list[tuple[tuple[float, int], _Partial]] = []
    start = _Partial(1.0, (), search.enter(len(families) - 1, families[-1].root, None))
    if start.bound >= 0.0 and start.least <= limit:
        heap.append((rank(start), start))
    for _ in range(MAX_STEPS):
        if not heap or len(found) == count:
            return _in_order(found), True
        _, partial = heapq.heappop(heap)
        if partial.bound < min_probability * (1.0 - TIE):
            return _in_order(found), True
        if partial.pending is None:
            found.append((tuple(sorted(partial.members)), partial.product))
            continue
        for step in search.go_on(partial, partial.pending):
            if step.bound >= 0.0 and step.least <= limit:
                heapq.heappush(heap, (rank(step), step))
    return _in_order(found), False


def _round(bound: float) -> float:
    """A bound without its last digits: products of the same numbers in another order must tie, or ties are endless."""
    mantissa, exponent = math.frexp(bound)
    return math.ldexp(round(mantissa / TIE) * TIE, exponent)


def _in_order(found: list[tuple[tuple[int, ...], float]]) -> list[tuple[tuple[int, ...], float]]:
    return sorted(found, key=lambda cut: (-_round(cut[1]), len(cut[0]), cut[0]))


class _Search:
    """Walks down families, with the best and the shortest completion of every row at hand."""

    def __init__(self, families: list[Family], p: Vector) -> None:
        self._families = families
        self._p = p.tolist()
        self._best = [best.tolist() for best in _largest(families, p)[0]]
        self._least = [least.tolist() for least in _smallest(families, len(p))]
        self._rows = [family.rows.tolist() for family in families]

    def enter(self, family: int, row: int, rest: _Pending | None) -> _Pending | None:
        """What is to be walked when a row comes before the rest; the row of the empty set adds nothing."""
        if row == 1:
            return rest
        best, least = self._best[family][row], self._least[family][row]
        if rest is not None:
            best = best * rest.best if best >= 0.0 and rest.best >= 0.0 else -1.0
            least += rest.least
        return _Pending(family, row, rest, best, least)

    def go_on(self, partial: _Partial, pending: _Pending) -> Iterator[_Partial]:
        """The two ways on from a row: without its variable, and with it."""
        variable, low, high = self._rows[pending.family][pending.row]
        if low != 0:
            yield _Partial(partial.product, partial.members, self.enter(pending.family, low, pending.rest))
        after = self.enter(pending.family, high, pending.rest)
        i = self._families[pending.family].inputs[variable]
        if i >= 0:
            yield _Partial(partial.product * self._p[i], (*partial.members, i), after)
        else:
            yield _Partial(partial.product, partial.members, self.enter(~i, self._families[~i].root, after))
