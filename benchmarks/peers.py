"""Two general-purpose decision-diagram libraries doing the engine's work, for comparison in one run."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from faulttree.engine.analysis.kernels import node_probabilities
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.bdd import Bdd
from faulttree.engine.diagrams.build import build_diagram
from faulttree.engine.diagrams.solution import Diagram, Solution
from faulttree.engine.diagrams.zdd import minimal_cut_sets
from faulttree.engine.logic.netlist import Kind, Netlist

NODE_LIMIT = 1 << 24
OXIDD_CACHES = (1 << 18, 1 << 20, 1 << 22)


@dataclass(frozen=True)
class Timing:
    """Seconds of each part (None where it was not run) and what came out."""

    build: float
    probability: float | None
    cut_sets: float | None
    value: float | None
    nodes: int


def gate_program(netlist: Netlist, order: list[int]) -> list[tuple[int, Kind, list[int], int]]:
    """Gates in the order and with the argument order that the engine uses, so that all build alike."""
    highest = {node: i for i, node in enumerate(order)}
    program = []
    for node in netlist.topological():
        gate = netlist.gate(node)
        highest[node] = min(highest[a >> 1] for a in gate.arguments)
        program.append((node, gate.kind, sorted(gate.arguments, key=lambda a: -highest[a >> 1]), gate.k))
    return program


def run_program(netlist: Netlist, order: list[int], variable: Callable[[int], Any], true: Any, false: Any) -> Any:
    """Build the root with a library's own operators & and ~."""
    edges = {node: variable(i) for i, node in enumerate(order)}

    def literal(a: int) -> Any:
        return ~edges[a >> 1] if a & 1 else edges[a >> 1]

    for node, kind, arguments, k in gate_program(netlist, order):
        parts = [literal(a) for a in arguments]
        edges[node] = _combine(kind, parts, k, true, false)
    return literal(netlist.root)


def _combine(kind: Kind, parts: list[Any], k: int, true: Any, false: Any) -> Any:
    if kind == Kind.ATLEAST:
        row = [true, *[false] * k]
        for seen, part in enumerate(parts):
            for j in range(min(k, seen + 1), 0, -1):
                row[j] = ~(~row[j] & ~(part & row[j - 1]))
        return row[k]
    result = parts[0]
    for part in parts[1:]:
        if kind == Kind.AND:
            result = result & part
        elif kind == Kind.OR:
            result = ~(~result & ~part)
        else:
            result = ~(~(result & ~part) & ~(~result & part))
    return result


def run_engine(netlist: Netlist, order: list[int], p: np.ndarray) -> Timing:
    """The engine's kernels on one diagram, without modules or rewriting."""
    start = time.perf_counter()
    bdd = Bdd(len(order), limit=NODE_LIMIT, watch=Watch())
    edge = build_diagram(bdd, netlist, order)
    built = time.perf_counter()
    rows, edge = bdd.table.extract(edge)
    holds, fails = np.empty(len(rows)), np.empty(len(rows))
    level_p = np.array([p[node] for node in order])
    node_probabilities(rows, level_p, 1.0 - level_p, holds, fails)
    evaluated = time.perf_counter()
    cut_seconds = None
    if not edge & 1:
        minimal_cut_sets(Solution(netlist.variables, (Diagram(rows, tuple(order)),), 0), Watch())
        cut_seconds = time.perf_counter() - evaluated
    value = float(fails[edge >> 1] if edge & 1 else holds[edge >> 1])
    return Timing(built - start, evaluated - built, cut_seconds, value, len(rows))


def run_cudd(netlist: Netlist, order: list[int], p: np.ndarray, *, evaluate: bool) -> Timing:
    """CUDD through dd.cudd, dynamic reordering off."""
    from dd import cudd  # type: ignore[import-not-found, unused-ignore]

    names = [f"x{i}" for i in range(len(order))]
    start = time.perf_counter()
    manager = cudd.BDD()
    manager.configure(reordering=False)
    manager.declare(*names)
    root = run_program(netlist, order, lambda i: manager.var(names[i]), manager.true, manager.false)
    built = time.perf_counter()
    value = None
    if evaluate:
        level_p = {names[i]: float(p[node]) for i, node in enumerate(order)}
        value = _cudd_probability(root, level_p)
    return Timing(built - start, time.perf_counter() - built, None, value, len(root))


def _cudd_probability(root: Any, p: dict[str, float]) -> float:
    known: dict[int, float] = {}

    def visit(u: Any) -> float:
        regular = ~u if u.negated else u
        key = int(regular)
        if key not in known:
            if regular.var is None:
                known[key] = 1.0
            else:
                q = p[regular.var]
                known[key] = (1.0 - q) * visit(regular.low) + q * visit(regular.high)
        return 1.0 - known[key] if u.negated else known[key]

    sys.setrecursionlimit(100_000)
    return visit(root)


def run_oxidd(
    netlist: Netlist, order: list[int], p: np.ndarray, *, cache: int, evaluate: bool, cut_sets: bool
) -> Timing:
    """oxidd's diagrams with complement edges, one thread."""
    import oxidd

    start = time.perf_counter()
    manager = oxidd.bcdd.BCDDManager(NODE_LIMIT, cache, 1)
    manager.add_vars(len(order))
    root = run_program(netlist, order, manager.var, manager.true(), manager.false())
    built = time.perf_counter()
    value = probability_seconds = cut_seconds = None
    if evaluate:
        value = _oxidd_probability(root, [float(p[node]) for node in order])
        probability_seconds = time.perf_counter() - built
    if cut_sets:
        before = time.perf_counter()
        _oxidd_minimal_solutions(root, len(order), cache)
        cut_seconds = time.perf_counter() - before
    return Timing(built - start, probability_seconds, cut_seconds, value, root.node_count())


def _oxidd_probability(root: Any, p: list[float]) -> float:
    known: dict[Any, float] = {}

    def visit(f: Any) -> float:
        if f not in known:
            cofactors = f.cofactors()
            if cofactors is None:
                known[f] = 1.0 if f.valid() else 0.0
            else:
                q = p[f.node_level()]
                known[f] = (1.0 - q) * visit(cofactors[1]) + q * visit(cofactors[0])
        return known[f]

    sys.setrecursionlimit(100_000)
    return visit(root)


def _oxidd_minimal_solutions(root: Any, variables: int, cache: int) -> Any:
    """Rauzy's recursion written on the library: it has no ready operation for minimal solutions."""
    import oxidd

    manager = oxidd.zbdd.ZBDDManager(NODE_LIMIT, cache, 1)
    manager.add_vars(variables)
    singles = [manager.singleton(i) for i in range(variables)]
    empty, base = manager.empty(), manager.base()
    solved: dict[Any, Any] = {}
    left: dict[tuple[Any, Any], Any] = {}

    def without(f: Any, g: Any) -> Any:
        if f in (empty, g) or g == base:
            return empty
        if g == empty or f == base:
            return f
        key = (f, g)
        if key not in left:
            f_level, g_level = f.node_level(), g.node_level()
            if g_level < f_level:
                left[key] = without(f, g.cofactors()[1])
            else:
                f1, f0 = f.cofactors()
                g1, g0 = g.cofactors() if g_level == f_level else (empty, g)
                high = without(without(f1, g1), g0)
                left[key] = singles[f_level].make_node(high, without(f0, g0))
        return left[key]

    def minimal(f: Any) -> Any:
        if f not in solved:
            cofactors = f.cofactors()
            if cofactors is None:
                solved[f] = base if f.valid() else empty
            else:
                low = minimal(cofactors[1])
                solved[f] = singles[f.node_level()].make_node(without(minimal(cofactors[0]), low), low)
        return solved[f]

    sys.setrecursionlimit(100_000)
    return minimal(root)
