"""Prime implicants of a function, for trees that are not coherent; listed one by one, up to a limit."""

from __future__ import annotations

from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.bdd import FALSE_EDGE, TRUE_EDGE, Bdd
from faulttree.engine.diagrams.build import build_diagram
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.netlist import Literal, Netlist
from faulttree.engine.logic.orders import order_depth_first

Implicant = frozenset[Literal]

MAX_NODES = 2_000_000


def find_prime_implicants(netlist: Netlist, limit: int, watch: Watch) -> set[Implicant]:
    """Return all prime implicants as sets of literals; raises LimitReached past `limit` of them.

    With f = ite(x, f1, f0): those of f0 and f1 together need no x; those of f1 (of f0) that are not
    among them need x (not x). Source: Coudert and Madre 1992, "Implicit and incremental computation
    of primes and essential primes of Boolean functions".
    """
    if netlist.root < 0:
        return {frozenset()} if netlist.root == -2 else set()
    order = order_depth_first(netlist, larger_first=True)
    bdd = Bdd(len(order), limit=MAX_NODES, watch=watch)
    root = build_diagram(bdd, netlist, order)
    known: dict[int, set[Implicant]] = {FALSE_EDGE: set(), TRUE_EDGE: {frozenset()}}
    stack = [root]
    while stack:
        edge = stack[-1]
        if edge in known:
            stack.pop()
            continue
        variable, low, high = _open(bdd, edge)
        both = bdd.both(low, high)
        missing = [child for child in (both, low, high) if child not in known]
        if missing:
            stack.extend(missing)
            continue
        literal = 2 * order[variable]
        shared = known[both]
        known[edge] = set(shared)
        known[edge].update(term | {literal} for term in known[high] - shared)
        known[edge].update(term | {literal ^ 1} for term in known[low] - shared)
        if len(known[edge]) > limit:
            raise LimitReached("implicants", f"There are more than {limit:,} prime implicants.")
        stack.pop()
    return known[root]


def _open(bdd: Bdd, edge: int) -> tuple[int, int, int]:
    variable, low, high = (int(x) for x in bdd.table.nodes[edge >> 1, :3])
    return variable, low ^ (edge & 1), high ^ (edge & 1)
