"""Build the diagram of one netlist under one variable order."""

from __future__ import annotations

from collections import Counter

import numpy as np

from faulttree.engine.diagrams.bdd import LEAST_COLLECTION, MOST_COLLECTION, Bdd
from faulttree.engine.logic.netlist import Kind, Literal, NetGate, Netlist, Node


def build_diagram(bdd: Bdd, netlist: Netlist, order: list[Node]) -> int:
    """Return the edge of the root; `order` lists the variables first-tested first.

    Gates are built once, arguments first. What no unfinished gate needs any more is dropped when
    the table has doubled since the last time.
    """
    level = {node: i for i, node in enumerate(order)}
    edges: dict[Node, int] = {node: bdd.variable(i) for node, i in level.items()}
    highest = dict(level)  # level of the first variable that a node tests
    gates = netlist.topological()
    pending = Counter(a >> 1 for g in gates for a in netlist.gate(g).arguments)
    pending[netlist.root >> 1] += 1
    floor = min(max(bdd.table.limit // 2, LEAST_COLLECTION), MOST_COLLECTION)
    collect_at = floor
    for node in gates:
        gate = netlist.gate(node)
        highest[node] = min(highest[a >> 1] for a in gate.arguments)
        arguments = sorted(gate.arguments, key=lambda a: -highest[a >> 1])  # deepest first: cheap steps first
        edges[node] = _combine(bdd, gate, [edges[a >> 1] ^ (a & 1) for a in arguments])
        bdd.gates_built += 1
        for literal in gate.arguments:
            pending[literal >> 1] -= 1
            if not pending[literal >> 1]:
                edges.pop(literal >> 1, None)
        if bdd.table.count > collect_at:
            _collect(bdd, edges)
            collect_at = max(floor, 2 * bdd.table.count)
    root: Literal = netlist.root
    return edges[root >> 1] ^ (root & 1)


def _combine(bdd: Bdd, gate: NetGate, edges: list[int]) -> int:
    if gate.kind == Kind.ATLEAST:
        return bdd.at_least(gate.k, edges)
    operation = {Kind.AND: bdd.both, Kind.OR: bdd.either, Kind.XOR: bdd.differ}[gate.kind]
    result = edges[0]
    for edge in edges[1:]:
        result = operation(result, edge)
    return result


def _collect(bdd: Bdd, edges: dict[Node, int]) -> None:
    roots = np.array(list(edges.values()), np.int64)
    bdd.table.collect(roots)
    for node, edge in zip(edges, roots.tolist(), strict=True):
        edges[node] = edge
