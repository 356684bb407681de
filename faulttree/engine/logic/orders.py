"""Static variable orders for decision diagrams, one function each; the best one differs by tree.

Every function returns all variables that the root reaches, first-tested first.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from faulttree.engine.logic.netlist import Netlist, Node

FORCE_PATIENCE = 12  # passes without gain before FORCE stops
FORCE_PASSES = 200


def order_depth_first(netlist: Netlist, *, larger_first: bool) -> list[Node]:
    """Variables as a depth-first walk meets them, entering the larger (or the smaller) subtree first.

    The size of a subtree is its number of leaves counted with repetition.
    """
    size: dict[Node, float] = {}
    for node in netlist.topological():
        size[node] = sum(size.get(a >> 1, 1.0) for a in netlist.gate(node).arguments)
    sign = -1.0 if larger_first else 1.0
    order: list[Node] = []
    seen: set[Node] = set()
    stack = [netlist.root >> 1]
    while stack:
        node = stack.pop()
        if node in seen:
            continue
        seen.add(node)
        if netlist.is_gate(node):
            below = sorted((a >> 1 for a in netlist.gate(node).arguments), key=lambda n: sign * size.get(n, 1.0))
            stack.extend(reversed(below))
        else:
            order.append(node)
    return order


def order_force(netlist: Netlist, start: list[Node]) -> list[Node]:
    """FORCE: pull every gate and variable towards the centre of the gates it belongs to.

    Starts from an order of the variables; stops after twelve passes without a shorter total span.
    Source: Aloul, Markov and Sakallah 2003, "FORCE: a fast and easy-to-implement variable-ordering heuristic".
    """
    gates = netlist.topological()
    if len(gates) == 1 and len(start) == len(netlist.gate(gates[0]).arguments):
        return start  # all are pulled to the same place
    place = {node: i for i, node in enumerate([*start, *gates])}
    edge_of = np.array([i for i, g in enumerate(gates) for _ in range(len(netlist.gate(g).arguments) + 1)], np.int64)
    members = np.array([place[n] for g in gates for n in (g, *(a >> 1 for a in netlist.gate(g).arguments))], np.int64)
    position = _start_positions(netlist, start, gates, place)
    edges, vertices = len(gates), len(place)
    sizes = np.bincount(edge_of, minlength=edges)
    degrees = np.maximum(np.bincount(members, minlength=vertices), 1)
    best, best_span, since = position, np.inf, 0
    firsts = np.concatenate(([0], np.cumsum(sizes)[:-1]))  # where the members of each edge begin
    for _ in range(FORCE_PASSES):
        centres = np.bincount(edge_of, position[members], edges) / sizes
        pulled = np.bincount(members, centres[edge_of], vertices) / degrees
        position = np.empty(vertices)
        position[np.argsort(pulled, kind="stable")] = np.arange(vertices)
        span = _total_span(position[members], firsts)
        best, best_span, since = (position, span, 0) if span < best_span else (best, best_span, since + 1)
        if since >= FORCE_PATIENCE:
            break
    return sorted(start, key=lambda v: best[place[v]])


def _start_positions(
    netlist: Netlist, start: list[Node], gates: list[Node], place: dict[Node, int]
) -> NDArray[np.float64]:
    """Rank of each vertex: a variable by the order, a gate just before the first variable below it."""
    rank: dict[Node, float] = {node: float(i) for i, node in enumerate(start)}
    for depth, gate in enumerate(gates):
        rank[gate] = min(rank[a >> 1] for a in netlist.gate(gate).arguments) - 1e-6 * (depth + 1)
    raw = np.empty(len(place))
    for node, i in place.items():
        raw[i] = rank[node]
    position = np.empty(len(place))
    position[np.argsort(raw, kind="stable")] = np.arange(len(place))
    return position


def _total_span(positions: NDArray[np.float64], firsts: NDArray[np.int64]) -> float:
    return float((np.maximum.reduceat(positions, firsts) - np.minimum.reduceat(positions, firsts)).sum())


def order_by_weight(netlist: Netlist) -> list[Node]:
    """Dynamic weight: the root's weight 1 is shared out equally downwards; take the heaviest variable, drop it, again.

    Source: Minato, Ishiura and Yajima 1990, "Shared binary decision diagram with attributed edges".
    """
    variables = order_depth_first(netlist, larger_first=True)
    gates = netlist.topological()[::-1]
    place = {node: i for i, node in enumerate([*variables, *gates])}
    offsets = np.cumsum([0, *(len(netlist.gate(g).arguments) for g in gates)]).astype(np.int64)
    children = np.array([place[a >> 1] for g in gates for a in netlist.gate(g).arguments], np.int64)
    return [variables[i] for i in _heaviest_first(offsets, children, len(variables))]


@njit(cache=True, nogil=True)
def _heaviest_first(offsets, children, variables):
    """Gates stand users before arguments; returns int64[variables], the order in which variables are dropped."""
    gates = offsets.shape[0] - 1
    taken = np.zeros(variables + gates, np.bool_)
    order = np.empty(variables, np.int64)
    for step in range(variables):
        for gate in range(gates - 1, -1, -1):  # a gate without arguments left is dropped too
            empty = True
            for i in range(offsets[gate], offsets[gate + 1]):
                if not taken[children[i]]:
                    empty = False
                    break
            taken[variables + gate] = empty
        weight = np.zeros(variables + gates)
        weight[variables] = 1.0
        for gate in range(gates):
            left = 0
            for i in range(offsets[gate], offsets[gate + 1]):
                left += not taken[children[i]]
            if left:
                share = weight[variables + gate] / left
                for i in range(offsets[gate], offsets[gate + 1]):
                    if not taken[children[i]]:
                        weight[children[i]] += share
        heaviest = -1
        for v in range(variables):
            if not taken[v] and (heaviest < 0 or weight[v] > weight[heaviest]):
                heaviest = v
        taken[heaviest] = True
        order[step] = heaviest
    return order
