"""A certified interval for the top-event probability from its likeliest cut sets.

Bottom-up, every gate keeps a family of products (sets of events that together make it true) and a
bound on the probability that it is true though none of the kept products is. The bounds add up to
one at the top; see README.md ("Bracket") for the argument. Cut-offs get finer until time runs out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis import kernels as evaluation
from faulttree.engine.analysis.cut_sets import count_by_order, likeliest_sets
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams import bdd_kernels, zdd_kernels
from faulttree.engine.diagrams.bdd import Bdd
from faulttree.engine.diagrams.table import NodeTable
from faulttree.engine.diagrams.zdd import Family
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.netlist import FALSE, TRUE, Netlist
from faulttree.engine.logic.orders import order_depth_first
from faulttree.engine.logic.simplify import simplify
from faulttree.engine.truncation.families import FamilyTable
from faulttree.engine.truncation.positive import Part, PositiveNet, make_positive

Vector = NDArray[np.float64]

WEIGHTS_PER_DECADE = 2  # an event of probability 0.01 weighs 4
HEAVIEST = 40
ROUNDING = 1e-9  # widening of both ends, far above the rounding of any sum here
FIRST_MARGIN, MARGIN_STEP, LAST_MARGIN = 4, 2, 80  # weight allowed above the lightest cut set
LEAST_SECONDS = 2.0  # even when the budget is spent, a first interval is worth this
GOOD_ENOUGH = 1e-6  # relative width at which refining stops
UNION_NODES = 4_000_000
UNION_WORK = 8_000_000
UNION_TERMS = 2_000  # products united one by one for a tree with negations


@dataclass(frozen=True)
class Bracket:
    """lower <= P(top) <= upper, and the products behind it.

    cut_sets : variables of the likeliest kept minimal cut sets with their probabilities
    kept_count, by_order : how many minimal cut sets were kept
    """

    lower: float
    upper: float
    cut_sets: list[tuple[tuple[int, ...], float]]
    kept_count: int
    by_order: dict[int, int]
    note: str


@dataclass
class _Gate:
    """What is known of one gate: kept family, bound on what it misses, bound on its probability."""

    family: int
    missed: float
    upper: float


def bracket(netlist: Netlist, p: Vector, watch: Watch, *, list_count: int) -> Bracket:
    """Return the tightest interval found within what is left of the budget.

    Never fails for want of time or memory: the first, crude interval needs next to nothing. Raises
    Cancelled when asked to stop.
    """
    if netlist.root < 0:
        value = float(netlist.root == TRUE)
        return Bracket(value, value, [], 0, {}, "The top event is constant.")
    work = simplify(netlist)
    if work.root in (TRUE, FALSE):
        value = float(work.root == TRUE)
        return Bracket(value, value, [], 0, {}, "The top event is constant.")
    net = make_positive(work, p)
    left = None if watch.budget.seconds is None else max(LEAST_SECONDS, watch.budget.seconds - watch.elapsed())
    limited = replace(watch, budget=replace(watch.budget, seconds=None if left is None else watch.elapsed() + left))
    return _Refinement(net, work, p, limited, list_count).run()


class _Refinement:
    def __init__(self, net: PositiveNet, netlist: Netlist, p: Vector, watch: Watch, list_count: int) -> None:
        self._net, self._netlist, self._p, self._watch, self._list_count = net, netlist, p, watch, list_count
        self._order = _rail_order(net, netlist)
        rail_p = net.p[self._order]
        with np.errstate(divide="ignore"):
            raw = np.where(rail_p > 0.0, -np.log10(np.maximum(rail_p, 1e-300)) * WEIGHTS_PER_DECADE, HEAVIEST)
        self._weight = np.clip(np.rint(raw), 0, HEAVIEST).astype(np.int32)
        self._rail_p = np.ascontiguousarray(rail_p)
        self._level = {rail: level for level, rail in enumerate(self._order)}
        self._lightest = self._find_lightest()
        self._simple_upper = self._bound_simply()
        self._twin_free = len({literal >> 1 for literal in net.rails}) == len(net.rails)

    def run(self) -> Bracket:
        net = self._net
        upper = self._upper_of(net.root, None)
        best = Bracket(0.0, min(1.0, upper * (1.0 + ROUNDING)), [], 0, {}, "Only bounds gate by gate were reached.")
        start = self._lightest_of(net.root)
        for margin in range(FIRST_MARGIN, LAST_MARGIN, MARGIN_STEP):
            try:
                best = self._combine(best, self._refine(start + margin))
            except LimitReached:
                break
            if best.upper - best.lower <= GOOD_ENOUGH * best.upper:
                break
        return best

    @staticmethod
    def _combine(old: Bracket, new: Bracket) -> Bracket:
        return replace(new, lower=max(old.lower, new.lower), upper=min(old.upper, new.upper))

    def _refine(self, most: int) -> Bracket:
        """One pass over all gates with cut sets up to a weight."""
        self._watch.say("Bracketing the probability", min(0.95, most / (most + 20.0)))
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
        apart = not self._net.support_of(a) & self._net.support_of(b)
        if self._net.conjunctions[g]:
            family = table.product(fa, fb, most)
            fresh = self._mass_above(table, a, fa, b, fb, most)
            missed = fresh + (ma * ub + ua * mb if apart else min(ma, ub) + min(ua, mb))
            upper = ua * ub if apart else min(ua, ub)
        else:
            both = table.union(fa, fb)
            family = table.keep(both, most)
            fresh = float(table.sums(both, self._rail_p, most + 1)[most + 1]) if family != both else 0.0
            missed = ma + mb + fresh
            upper = ua + ub - ua * ub if apart else ua + ub
        kept = float(table.sums(family, self._rail_p, 0)[0])
        upper = min(1.0, upper, self._simple_upper[g], kept + missed)
        return _Gate(family, min(missed, upper), upper), fresh

    def _mass_above(self, table: FamilyTable, a: Part, fa: int, b: Part, fb: int, most: int) -> float:
        """Bound on the probability that a product pair heavier than `most` occurs.

        Pairs are grouped by the weight i of the first: P(F_i and G_j with j > most - i). Products
        that touch no variable of the other side are independent of it; for pairs of products that
        both do, the less likely of the two bounds the pair.
        """
        shared = self._net.support_of(a) & self._net.support_of(b)
        all_a, all_b = (table.sums(f, self._rail_p, most + 1) for f in (fa, fb))
        if shared:
            free_p = self._rail_p.copy()
            for level, rail in enumerate(self._order):
                if shared >> (self._net.rails[rail] >> 1) & 1:
                    free_p[level] = 0.0
            free_a, free_b = (table.sums(f, free_p, most + 1) for f in (fa, fb))
        else:
            free_a, free_b = all_a, all_b
        tied_a, tied_b = np.maximum(all_a - free_a, 0.0), np.maximum(all_b - free_b, 0.0)
        above_all, above_free, above_tied = (np.cumsum(x[::-1])[::-1] for x in (all_b, free_b, tied_b))
        total = 0.0
        for i in range(most + 2):
            j = max(0, most + 1 - i)  # lightest partner that makes the pair too heavy
            total += free_a[i] * above_all[j] + tied_a[i] * above_free[j] + min(tied_a[i], above_tied[j])
        return float(total)

    def _conclude(self, table: FamilyTable, gates: list[_Gate], dropped: list[float], most: int) -> Bracket:
        net, root = self._net, self._net.root
        family, missed, _ = self._state(table, gates, root)
        missed = min(missed, self._missed_through_users(gates, dropped))
        rows, top = table.extract(family)
        inputs = tuple(net.rails[rail] for rail in self._order)
        kept = float(table.sums(family, self._rail_p, 0)[0])
        union = self._probability_of_union(rows, top, inputs)
        upper = min(1.0, (kept if union is None else min(union, kept)) + missed, self._upper_of(root, gates))
        lower = union if union is not None else self._partial_union(rows, top, inputs)
        return self._describe(rows, top, lower * (1.0 - ROUNDING), min(1.0, upper * (1.0 + ROUNDING)), most)

    def _missed_through_users(self, gates: list[_Gate], dropped: list[float]) -> float:
        """Sum over gates of what was dropped there times a bound on the chance that it matters above.

        Where a gate meets an independent partner in an AND, what it misses matters only if the
        partner occurs too; partners further up are independent of those further down.
        """
        net = self._net
        factor = [0.0] * len(gates)
        if net.root < 0:
            factor[~net.root] = 1.0
        for g in range(len(gates) - 1, -1, -1):
            factor[g] = min(1.0, factor[g])
            a, b = net.arguments[g]
            apart = not net.support_of(a) & net.support_of(b)
            for part, other in ((a, b), (b, a)):
                if part < 0:
                    meets = self._upper_of(other, gates) if net.conjunctions[g] and apart else 1.0
                    factor[~part] += factor[g] * meets
        return float(np.dot(factor, dropped))

    def _probability_of_union(self, rows: NDArray[np.int32], top: int, inputs: tuple[int, ...]) -> float | None:
        """Exact probability that some kept cut set occurs; None when its diagram would be too large.

        For a tree with both an event and its negation as rails this route is closed.
        """
        if not self._twin_free:
            return None
        watch = replace(self._watch, budget=Budget(UNION_NODES, self._watch.budget.seconds, self._watch.budget.memory_mib))
        table = NodeTable(constants=1, shift=1, limit=UNION_NODES, watch=watch, work_limit=UNION_WORK)
        stack = np.zeros((len(inputs) + 4, 8), np.int32)
        out = np.zeros(len(rows), np.int64)
        table.state[zdd_kernels.NEXT] = 0
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
        evaluation.node_probabilities(diagram, self._rail_p, 1.0 - self._rail_p, holds, fails)
        return float(fails[edge >> 1] if edge & 1 else holds[edge >> 1])

    def _partial_union(self, rows: NDArray[np.int32], top: int, inputs: tuple[int, ...]) -> float:
        """Exact probability that one of the likeliest kept cut sets occurs: a lower bound for the top event."""
        terms, _ = likeliest_sets([Family(rows, top, tuple(range(len(inputs))))], self._rail_p, UNION_TERMS)
        order = order_depth_first(self._netlist, larger_first=True)
        level = {variable: i for i, variable in enumerate(order)}
        bdd = Bdd(len(order), limit=UNION_NODES, watch=self._watch, work_limit=UNION_WORK)
        union = 0
        try:
            for members, _ in terms:
                literals = sorted((inputs[m] for m in members), key=lambda literal: -level[literal >> 1])
                term = 1
                for literal in literals:
                    term = bdd.both(bdd.variable(level[literal >> 1]) ^ (literal & 1), term)
                union = bdd.either(union, term)
        except LimitReached:
            pass  # what is united so far is a lower bound as well
        p = np.array([self._p[variable] for variable in order])
        diagram = np.ascontiguousarray(bdd.table.nodes[: bdd.table.count, :3])
        holds, fails = np.empty(len(diagram)), np.empty(len(diagram))
        evaluation.node_probabilities(diagram, p, 1.0 - p, holds, fails)
        return float(fails[union >> 1] if union & 1 else holds[union >> 1])

    def _describe(self, rows: NDArray[np.int32], top: int, lower: float, upper: float, most: int) -> Bracket:
        net = self._net
        plain = all(not literal & 1 for literal in net.rails)
        note = (
            f"The bracket is certified: it rests on the minimal cut sets down to about 1e-{most / WEIGHTS_PER_DECADE:g} "
            "and a bound on all that were left out."
        )
        if not plain:
            note += " The tree has negations; its kept sets are not listed."
            return Bracket(lower, upper, [], 0, {}, note)
        families = [Family(rows, top, tuple(net.rails[rail] >> 1 for rail in self._order))]
        by_order = count_by_order(families)
        listed, _ = likeliest_sets(families, self._p, self._list_count)
        return Bracket(lower, upper, listed, sum(by_order.values()), by_order, note)

    def _state(self, table: FamilyTable, gates: list[_Gate], part: Part) -> tuple[int, float, float]:
        if part >= 0:
            return table.variable(self._level[part]), 0.0, float(self._net.p[part])
        gate = gates[~part]
        return gate.family, gate.missed, gate.upper

    def _upper_of(self, part: Part, gates: list[_Gate] | None) -> float:
        if part >= 0:
            return float(self._net.p[part])
        return self._simple_upper[~part] if gates is None else gates[~part].upper

    def _lightest_of(self, part: Part) -> int:
        return int(self._weight[self._level[part]]) if part >= 0 else self._lightest[~part]

    def _find_lightest(self) -> list[int]:
        """Least weight of any product of each gate, a little low where arguments share variables."""
        self._lightest = []
        for conjunction, (a, b) in zip(self._net.conjunctions, self._net.arguments, strict=True):
            wa, wb = self._lightest_of(a), self._lightest_of(b)
            apart = not self._net.support_of(a) & self._net.support_of(b)
            self._lightest.append((wa + wb if apart else max(wa, wb)) if conjunction else min(wa, wb))
        return self._lightest

    def _bound_simply(self) -> list[float]:
        """Upper bound of each gate's probability from its arguments' alone."""
        self._simple_upper: list[float] = []
        for conjunction, (a, b) in zip(self._net.conjunctions, self._net.arguments, strict=True):
            ua, ub = self._upper_of(a, None), self._upper_of(b, None)
            apart = not self._net.support_of(a) & self._net.support_of(b)
            if conjunction:
                self._simple_upper.append(ua * ub if apart else min(ua, ub))
            else:
                self._simple_upper.append(ua + ub - ua * ub if apart else min(1.0, ua + ub))
        return self._simple_upper

    def _allow_weights(self, most: int) -> list[int]:
        """Largest weight worth keeping at each gate: what its users allow, less what an independent partner must add."""
        net = self._net
        allowed = [-1] * len(net.arguments)
        if net.root < 0:
            allowed[~net.root] = most
        for g in range(len(allowed) - 1, -1, -1):
            a, b = net.arguments[g]
            apart = not net.support_of(a) & net.support_of(b)
            for part, other in ((a, b), (b, a)):
                if part < 0:
                    spent = self._lightest_of(other) if net.conjunctions[g] and apart else 0
                    allowed[~part] = max(allowed[~part], allowed[g] - spent, 0)
        return allowed


def _rail_order(net: PositiveNet, netlist: Netlist) -> list[int]:
    """Rails in the depth-first order of their variables, the two rails of a variable together."""
    rank = {node: i for i, node in enumerate(order_depth_first(netlist, larger_first=True))}
    return sorted(range(len(net.rails)), key=lambda rail: (rank[net.rails[rail] >> 1], net.rails[rail] & 1))
