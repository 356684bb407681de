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
from typing import NamedTuple

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

# (rounds of search for a decomposition, decompositions tried, most steps of one try), then more of each
TRIALS = ((1, 1, 1_000_000), (4, 2, 10_000_000), (60, 4, 40_000_000))
FULL_RUNS = 3
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
    """Probability of one module.

    The number of neighbours says little about the size of a diagram, so the decompositions that
    look cheapest are tried with few steps; those with the least left to do then go on to the end.
    """
    search = DecompositionSearch(netlist, watch)
    left: list[tuple[float, Decomposition]] = []
    for rounds, tries, steps in TRIALS:
        search.search(rounds)
        left = []
        for decomposition in search.found[:tries]:
            outcome = _try(decomposition, p, watch, steps)
            if outcome.probability is not None:
                return outcome.probability
            left.append((outcome.cost_left, decomposition))
    left.sort(key=lambda trial: trial[0])
    reached = LimitReached("work", "No decomposition was tried to the end.")
    for _, decomposition in left[:FULL_RUNS]:
        outcome = _try(decomposition, p, watch, None)
        if outcome.probability is not None:
            return outcome.probability
        reached = outcome.reached or reached
    raise reached


class _Outcome(NamedTuple):
    """What one try gave: the probability, or the limit it ran into and what was left to do."""

    probability: float | None
    reached: LimitReached | None
    cost_left: float


def _try(decomposition: Decomposition, p: NDArray[np.float64], watch: Watch, step_limit: int | None) -> _Outcome:
    """Run along one decomposition; raises only when time is up, since other limits may not hold for another one."""
    elimination = Elimination(decomposition, p, watch, step_limit=step_limit)
    try:
        return _Outcome(elimination.run(), None, 0.0)
    except LimitReached as reached:
        if reached.limit == "seconds":
            raise
        return _Outcome(None, reached.with_traceback(None), elimination.cost_left)  # a traceback would hold the tables


@dataclass(slots=True)
class _Factor:
    """A function of some levels: its reference, how many nodes it has, and the levels it may depend on."""

    reference: int
    size: int
    levels: frozenset[int]


class Elimination:
    """One walk through an order. The first node to go has the lowest level, so runs lie at the bottom.

    p : float64[V], probability of each variable of the decomposed net
    step_limit : most steps, None for no limit
    cost_left : log2 of an estimate of what is still to do, also after a run that was stopped
    """

    def __init__(
        self, decomposition: Decomposition, p: NDArray[np.float64], watch: Watch, *, step_limit: int | None = None
    ) -> None:
        net = decomposition.net
        self._decomposition = decomposition
        self.cost_left = decomposition.cost
        self._watch = watch
        self._is_gate = np.zeros(net.nodes, np.bool_)
        level = np.empty(net.nodes, np.int64)
        level[decomposition.order] = np.arange(net.nodes - 1, -1, -1)
        self._is_gate[level[net.variables :]] = True
        weights = np.full((net.nodes, 2), 0.5)
        weights[level[: net.variables], 0] = 1.0 - p
        weights[level[: net.variables], 1] = p
        limit = watch.budget.nodes or 2**30
        self._table = AddTable(weights, limit=limit, watch=watch, work_limit=step_limit)
        self._factors: dict[int, _Factor] = {}
        self._users: list[set[int]] = [set() for _ in range(net.nodes)]  # by level, the factors that know it
        self._serial = 0
        self._collect_at = COLLECT_ABOVE
        for i, gate in enumerate(net.gates):
            self._add(self._tabulate(gate.exclusive, int(level[net.variables + i]), gate.a, gate.b, level))
        if net.root >= 0:
            self._add(self._observe(int(level[net.root >> 1]), net.root & 1))

    def run(self) -> float:
        """Return the exact probability that the root is true; raises LimitReached past a limit."""
        if self._decomposition.net.root < 0:
            return float(self._decomposition.net.root == TRUE)
        levels = len(self._users)
        for level in range(levels - 1, -1, -1):
            if self._users[level]:
                self._watch.say("Eliminating variables", 1.0 - level / levels)
                self.cost_left = self._decomposition.cost_from(levels - 1 - level)
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
