"""One pass over a monotone netlist with cut sets down to a cut-off, and what it proves.

Notation: f a gate, K_f the union of its kept cut sets (it implies f), m_f a bound on P(f and not
K_f), u_f a bound on P(f). Weights are whole numbers, -2 log10 of a probability rounded; they only
decide what is kept, the bounds use the probabilities themselves.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis import kernels as evaluation
from faulttree.engine.analysis.cut_sets import count_by_order, likeliest_sets
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams import bdd_kernels, zdd_kernels
from faulttree.engine.diagrams.table import NodeTable
from faulttree.engine.diagrams.zdd import Family
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.netlist import Netlist
from faulttree.engine.logic.orders import order_depth_first
from faulttree.engine.truncation.families import FamilyTable
from faulttree.engine.truncation.positive import Part, binarise

Vector = NDArray[np.float64]

WEIGHTS_PER_DECADE = 2
HEAVIEST = 40
UNION_NODES = 4_000_000
UNION_WORK = 8_000_000
UNION_SETS = 2_000  # the likeliest sets whose union is a lower bound when that of all is too large


@dataclass(frozen=True)
class Interval:
    """lower <= P <= upper up to rounding, and the minimal cut sets kept on the way."""

    lower: float
    upper: float
    cut_sets: list[tuple[tuple[int, ...], float]] = field(default_factory=list)
    kept_count: int = 0
    by_order: dict[int, int] = field(default_factory=dict)
    cut_off: float = 1.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which of the kept cut sets are listed: at most `count`, the likeliest, within the cut-offs."""

    count: int = 0
    max_order: int | None = None
    min_probability: float = 0.0


@dataclass
class _Gate:
    """What is known of one gate: number of the kept family, m_f and u_f."""

    family: int
    missed: float
    upper: float


class Refinement:
    """Passes over one monotone netlist whose root is not a constant."""

    def __init__(self, netlist: Netlist, p: Vector, watch: Watch, wanted: Wanted) -> None:
        self._net = binarise(netlist)
        self._p, self._watch, self._wanted = p, watch, wanted
        self._order = order_depth_first(netlist, larger_first=True)
        self._level = {variable: level for level, variable in enumerate(self._order)}
        self._level_p = np.array([p[variable] for variable in self._order])
        heavy = -WEIGHTS_PER_DECADE * np.log10(np.maximum(self._level_p, 1e-300))
        self._weight = np.clip(np.rint(heavy), 0, HEAVIEST).astype(np.int32)
        self._lightest: list[int] = []
        self._crude: list[float] = []
        for g in range(len(self._net.arguments)):
            self._lightest.append(self._find_lightest(g))
            self._crude.append(self._bound_crudely(g))

    def crude_upper(self) -> float:
        """Bound of the root's probability gate by gate, without cut sets."""
        return self._upper_of(self._net.root, None)

    def refine(self, margin: int) -> Interval:
        """Interval from the cut sets that weigh up to `margin` more than the lightest; raises LimitReached."""
        root = self._net.root
        most = max(0, margin + self._lightest_of(root))
        self._watch.say("Bracketing the probability", most / (most + 40.0))
        memory = self._watch.budget.memory_mib
        table = FamilyTable(self._weight, memory_mib=None if memory is None else memory // 2, watch=self._watch)
        allowed = self._allow_weights(most)
        gates: list[_Gate] = []
        dropped: list[float] = []
        for g in range(len(self._net.arguments)):
            gate, fresh = self._pass(table, gates, g, allowed[g])
            gates.append(gate)
            dropped.append(fresh)
        return self._conclude(table, gates, dropped, most)

    def _pass(self, table: FamilyTable, gates: list[_Gate], g: int, most: int) -> tuple[_Gate, float]:
        """Family and bounds of one gate, and the probability newly dropped at it."""
        a, b = self._net.arguments[g]
        fa, ma, ua = self._state(table, gates, a)
        fb, mb, ub = self._state(table, gates, b)
        apart = self._net.is_apart(g)
        if self._net.conjunctions[g]:
            family = table.product(fa, fb, most)
            fresh = self._mass_above(table, self._shared_levels(g), fa, fb, most)
            missed = fresh + (ma * ub + ua * mb if apart else min(ma, ub) + min(ua, mb))
            upper = ua * ub if apart else min(ua, ub)
        else:
            both = table.union(fa, fb)
            family = table.keep(both, most)
            fresh = float(table.sums(both, self._level_p, most + 1)[most + 1]) if family != both else 0.0
            missed = ma + mb + fresh
            upper = ua + ub - ua * ub if apart else ua + ub
        kept = float(table.sums(family, self._level_p, 0)[0])
        upper = min(1.0, upper, self._crude[g], kept + missed)
        return _Gate(family, min(missed, upper), upper), fresh

    def _shared_levels(self, g: int) -> list[int]:
        a, b = self._net.arguments[g]
        shared = self._net.support_of(a) & self._net.support_of(b)
        levels = []
        while shared:  # from bit to bit: most pairs share few of many variables
            lowest = shared & -shared
            levels.append(self._level[lowest.bit_length() - 1])
            shared ^= lowest
        return levels

    def _mass_above(self, table: FamilyTable, shared: list[int], fa: int, fb: int, most: int) -> float:
        """Bound on the probability that some pair of cut sets, one of each side, heavier than `most` occurs.

        Pairs are grouped by the weight i of the first: P(A_i and B_j with j > most - i). A cut set
        without a variable of the other side is independent of it; where both have one, the less
        likely of the two bounds the pair.
        """
        all_a, all_b = (table.sums(f, self._level_p, most + 1) for f in (fa, fb))
        free_a, free_b = all_a, all_b
        if shared:
            free_p = self._level_p.copy()
            free_p[shared] = 0.0
            free_a, free_b = (table.sums(f, free_p, most + 1) for f in (fa, fb))
        tied_a, tied_b = np.maximum(all_a - free_a, 0.0), np.maximum(all_b - free_b, 0.0)
        above_all, above_free, above_tied = (np.cumsum(x[::-1])[::-1] for x in (all_b, free_b, tied_b))
        lightest = np.maximum(most + 1 - np.arange(most + 2), 0)  # of a partner that makes the pair too heavy
        pairs = free_a * above_all[lightest] + tied_a * above_free[lightest]
        return float(np.sum(pairs + np.minimum(tied_a, above_tied[lightest])))

    def _conclude(self, table: FamilyTable, gates: list[_Gate], dropped: list[float], most: int) -> Interval:
        family, missed, upper = self._state(table, gates, self._net.root)
        missed = min(missed, self._missed_through_users(gates, dropped))
        rows, top = table.extract(family)
        whole = Family(rows, top, tuple(self._order))
        kept = float(table.sums(family, self._level_p, 0)[0])
        union = self._probability_of_union(rows, top)
        lower = union if union is not None else self._likeliest_union(whole)
        upper = min(1.0, upper, (kept if union is None else min(union, kept)) + missed)
        wanted = self._wanted
        listed, _ = likeliest_sets(
            [whole], self._p, wanted.count, max_order=wanted.max_order, min_probability=wanted.min_probability
        )
        by_order = count_by_order([whole])
        cut_off = 10.0 ** (-most / WEIGHTS_PER_DECADE)
        return Interval(lower, upper, listed, sum(by_order.values()), by_order, cut_off)

    def _missed_through_users(self, gates: list[_Gate], dropped: list[float]) -> float:
        """Sum over gates of what was dropped there times a bound on the chance that it matters above.

        Where a gate meets an independent partner in an AND, what it misses matters only if the
        partner occurs too. Partners further up are independent of those further down, so the
        bounds multiply; over several users they add.
        """
        net = self._net
        factor = [0.0] * len(gates)
        if net.root < 0:
            factor[~net.root] = 1.0
        for g in range(len(gates) - 1, -1, -1):
            factor[g] = min(1.0, factor[g])
            narrows = net.conjunctions[g] and net.is_apart(g)
            a, b = net.arguments[g]
            for part, other in ((a, b), (b, a)):
                if part < 0:
                    factor[~part] += factor[g] * (self._upper_of(other, gates) if narrows else 1.0)
        return float(np.dot(factor, dropped))

    def _probability_of_union(self, rows: NDArray[np.int32], top: int) -> float | None:
        """Exact probability that some kept cut set occurs; None when its diagram would be too large."""
        budget = Budget(UNION_NODES, self._watch.budget.seconds, self._watch.budget.memory_mib)
        watch = replace(self._watch, budget=budget)
        table = NodeTable(constants=1, shift=1, limit=UNION_NODES, watch=watch, work_limit=UNION_WORK)
        stack = np.zeros((len(self._order) + 4, 8), np.int32)
        out = np.zeros(len(rows), np.int64)
        try:
            while (
                status := zdd_kernels.unite_sets(
                    rows, -1, out, out, table.nodes, table.buckets, table.cache, stack, table.state
                )
            ) != bdd_kernels.DONE:
                table.go_on(status)
        except LimitReached:
            return None
        edge = int(out[top])
        diagram = np.ascontiguousarray(table.nodes[: table.count, :3])
        holds, fails = np.empty(len(diagram)), np.empty(len(diagram))
        evaluation.node_probabilities(diagram, self._level_p, 1.0 - self._level_p, holds, fails)
        return float(fails[edge >> 1] if edge & 1 else holds[edge >> 1])

    def _likeliest_union(self, whole: Family) -> float:
        """A lower bound: the likeliest cut sets taken as if they alone were there, by Bonferroni.

        P(union) >= sum of P(C) - sum of P(C and C') over pairs; sets are added while that rises.
        """
        sets, _ = likeliest_sets([whole], self._p, UNION_SETS)
        best = total = 0.0
        taken: list[tuple[frozenset[int], float]] = []
        for members, probability in sets:
            mine = frozenset(members)
            overlap = sum(q * float(np.prod([self._p[v] for v in mine - other])) for other, q in taken)
            total += probability - overlap
            taken.append((mine, probability))
            best = max(best, total)
            if probability <= overlap:
                break
        return best

    def _state(self, table: FamilyTable, gates: list[_Gate], part: Part) -> tuple[int, float, float]:
        if part >= 0:
            return table.variable(self._level[part]), 0.0, float(self._p[part])
        gate = gates[~part]
        return gate.family, gate.missed, gate.upper

    def _upper_of(self, part: Part, gates: list[_Gate] | None) -> float:
        if part >= 0:
            return float(self._p[part])
        return self._crude[~part] if gates is None else gates[~part].upper

    def _lightest_of(self, part: Part) -> int:
        return int(self._weight[self._level[part]]) if part >= 0 else self._lightest[~part]

    def _find_lightest(self, g: int) -> int:
        """Least weight of any cut set of a gate, a little low where its arguments share variables."""
        wa, wb = (self._lightest_of(part) for part in self._net.arguments[g])
        if not self._net.conjunctions[g]:
            return min(wa, wb)
        return wa + wb if self._net.is_apart(g) else max(wa, wb)

    def _bound_crudely(self, g: int) -> float:
        """Upper bound of a gate's probability from its arguments' alone."""
        ua, ub = (self._upper_of(part, None) for part in self._net.arguments[g])
        if self._net.conjunctions[g]:
            return ua * ub if self._net.is_apart(g) else min(ua, ub)
        return ua + ub - ua * ub if self._net.is_apart(g) else min(1.0, ua + ub)

    def _allow_weights(self, most: int) -> list[int]:
        """Largest weight worth keeping at each gate: what its users allow, less what an independent partner adds."""
        net = self._net
        allowed = [0] * len(net.arguments)
        if net.root < 0:
            allowed[~net.root] = most
        for g in range(len(allowed) - 1, -1, -1):
            a, b = net.arguments[g]
            adds = net.conjunctions[g] and net.is_apart(g)
            for part, other in ((a, b), (b, a)):
                if part < 0:
                    allowed[~part] = max(allowed[~part], allowed[g] - (self._lightest_of(other) if adds else 0))
        return allowed
