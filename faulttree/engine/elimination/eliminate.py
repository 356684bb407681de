"""The second exact engine: top-event probability by summing variables out, without cut sets.

Every two-argument gate is a 0/1 factor over its output and its arguments, every event a weight.
The probability is the sum, over all values of all nodes, of the product of factors and weights; it
is got by summing nodes out one run after the other, each time over the product of just those
factors that know them. All terms are 0 or more, so nothing cancels: the relative rounding error
stays below about 1e-16 times the number of steps that a term goes through (a few thousand).

References: Dechter 1999, "Bucket elimination: a unifying framework for reasoning"; Bahar et al.
1997, "Algebraic decision diagrams and their applications".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.elimination import kernels
from faulttree.engine.elimination.decomposition import Decomposition, DecompositionSearch
from faulttree.engine.elimination.table import AddTable
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.modules import split_modules
from faulttree.engine.logic.netlist import TRUE, Literal, Netlist
from faulttree.engine.logic.simplify import simplify

# rounds of search for a decomposition, most steps of one try, tries; then the same with more
STAGES: tuple[tuple[int, int | None, int], ...] = ((1, 1_000_000, 1), (4, 10_000_000, 2), (60, None, 3))
COLLECT_ABOVE = 1 << 20  # nodes; smaller tables are not worth a collection
MOST_GATES_AT_ONCE = 500  # 2**500 is far from the largest float


def eliminate_probability(netlist: Netlist, p: NDArray[np.float64], watch: Watch) -> float:
    """Return the exact probability that the netlist's function is true.

    Modules are solved one after the other, each by several decompositions under growing budgets.

    p : float64[V], probability of each variable, within [0, 1]
    Raises LimitReached past the budget, Cancelled when asked to stop.
    """
    watch.say("Simplifying the tree")
    modules, sign = split_modules(simplify(netlist))
    holds = np.zeros(len(modules))
    for j, module in enumerate(modules):
        watch.say("Eliminating variables", j / len(modules))
        true = np.array([p[i] if i >= 0 else holds[~i] for i in module.inputs])
        last = j == len(modules) - 1
        wanted = Netlist(module.netlist.variables, module.netlist.gates, module.netlist.root ^ (sign if last else 0))
        holds[j] = _solve_module(wanted, true, watch)
    return float(holds[-1]) if modules else float(sign)


def _solve_module(netlist: Netlist, p: NDArray[np.float64], watch: Watch) -> float:
    search = DecompositionSearch(netlist, watch)
    reached = LimitReached("work", "The elimination was not tried.")
    for rounds, work, tries in STAGES:
        search.search(rounds)
        for decomposition in search.found[:tries]:
            try:
                return eliminate_along(decomposition, p, watch, work_limit=work)
            except LimitReached as limit:
                if limit.limit == "seconds":
                    raise
                reached = limit
    raise reached


def eliminate_along(
    decomposition: Decomposition, p: NDArray[np.float64], watch: Watch, *, work_limit: int | None = None
) -> float:
    """Return the exact probability of a decomposed net; raises LimitReached past the budget or the work limit."""
    root = decomposition.net.root
    if root < 0:
        return float(root == TRUE)
    return _Elimination(decomposition, p, watch, work_limit).run()


@dataclass(slots=True)
class _Factor:
    """A function of some levels: its reference, how many nodes it has, and the levels it may depend on."""

    reference: int
    size: int
    levels: frozenset[int]


class _Elimination:
    """One walk through an order. The first node to go has the lowest level, so runs lie at the bottom."""

    def __init__(
        self, decomposition: Decomposition, p: NDArray[np.float64], watch: Watch, work_limit: int | None
    ) -> None:
        net = decomposition.net
        self._watch = watch
        self._is_gate = np.zeros(net.nodes, np.bool_)
        level = np.empty(net.nodes, np.int64)
        level[decomposition.order] = np.arange(net.nodes - 1, -1, -1)
        self._is_gate[level[net.variables :]] = True
        weights = np.full((net.nodes, 2), 0.5)
        weights[level[: net.variables], 0] = 1.0 - p
        weights[level[: net.variables], 1] = p
        limit = watch.budget.nodes or 2**30
        self._table = AddTable(weights, limit=limit, watch=watch, work_limit=work_limit)
        self._factors: dict[int, _Factor] = {}
        self._users: list[set[int]] = [set() for _ in range(net.nodes)]  # by level, the factors that know it
        self._serial = 0
        self._collect_at = COLLECT_ABOVE
        for i, gate in enumerate(net.gates):
            self._add(self._tabulate(gate.exclusive, int(level[net.variables + i]), gate.a, gate.b, level))
        self._add(self._observe(int(level[net.root >> 1]), net.root & 1))

    def run(self) -> float:
        levels = len(self._users)
        for level in range(levels - 1, -1, -1):
            if self._users[level]:
                self._watch.say("Eliminating variables", 1.0 - level / levels)
                self._sum_out_from(level)
        result = 1.0
        for factor in self._factors.values():
            result *= self._table.value(factor.reference)
        return result

    def _tabulate(self, exclusive: bool, out: int, a: Literal, b: Literal, level: NDArray[np.int64]) -> _Factor:
        """The factor of one gate: 1 where the output fits the arguments, else 0."""
        at = (out, int(level[a >> 1]), int(level[b >> 1]))
        order = sorted(range(3), key=lambda i: at[i])
        values: list[int] = []
        for row in range(8):  # the topmost level is the highest bit
            bits = [0, 0, 0]
            for rank, i in enumerate(order):
                bits[i] = row >> (2 - rank) & 1
            x, y = bits[1] ^ (a & 1), bits[2] ^ (b & 1)
            values.append(kernels.ONE if bits[0] == (x ^ y if exclusive else x & y) else kernels.ZERO)
        for i in reversed(order):
            values = [self._table.node(at[i], low, high) for low, high in zip(values[::2], values[1::2], strict=True)]
        return self._describe(values[0], at)

    def _observe(self, level: int, negated: int) -> _Factor:
        """The factor that says what the top node must be."""
        low, high = (kernels.ONE, kernels.ZERO) if negated else (kernels.ZERO, kernels.ONE)
        return self._describe(self._table.node(level, low, high), (level,))

    def _describe(self, reference: int, levels: Sequence[int]) -> _Factor:
        return _Factor(reference, self._table.size(reference), frozenset(levels))

    def _add(self, factor: _Factor) -> None:
        self._serial += 1
        self._factors[self._serial] = factor
        for level in factor.levels:
            self._users[level].add(self._serial)

    def _sum_out_from(self, level: int) -> None:
        """Sum out a run: this level and those next above that only the same factors know."""
        keys = set(self._users[level])
        known = frozenset[int]().union(*(self._factors[key].levels for key in keys))
        run = list(self._find_run(known, keys))
        factors = [self._factors.pop(key) for key in sorted(keys)]
        for known_level in known:
            self._users[known_level] -= keys
        gates = int(self._is_gate[run].sum())  # a gate's two values weigh one half each, not one
        scale = self._table.leaf(2.0**gates)
        self._add(self._multiply_and_sum(factors, scale, min(run), known.difference(run)))
        if self._table.count > self._collect_at:
            self._collect()

    def _find_run(self, known: frozenset[int], keys: set[int]) -> Iterator[int]:
        gates = 0
        for level in sorted(known, reverse=True):
            gates += int(self._is_gate[level])
            if not self._users[level] <= keys or gates > MOST_GATES_AT_ONCE:
                return
            yield level

    def _multiply_and_sum(self, factors: list[_Factor], scale: int, cut: int, rest: frozenset[int]) -> _Factor:
        """Multiply, always the two smallest; the last product is summed out as it is made."""
        table = self._table
        pool = [_Factor(scale, 0, frozenset()), *factors]
        while len(pool) > 2:
            pool.sort(key=lambda factor: factor.size)
            a, b = pool[0], pool[1]
            pool[:2] = [self._describe(table.multiply(a.reference, b.reference), tuple(a.levels | b.levels))]
        reference = table.multiply_and_sum(pool[0].reference, pool[1].reference, cut)
        return self._describe(reference, tuple(rest))

    def _collect(self) -> None:
        factors = list(self._factors.values())
        for factor, reference in zip(
            factors, self._table.collect([factor.reference for factor in factors]), strict=True
        ):
            factor.reference = reference
        self._collect_at = max(COLLECT_ABOVE, 2 * self._table.count)
