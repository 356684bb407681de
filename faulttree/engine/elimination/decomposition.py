"""Search for elimination orders of a netlist: which node to sum out when.

Nodes of a binary net are vertices, tied when they stand in one gate. Eliminating a vertex ties its
neighbours to each other; the work of the elimination grows with two to the number of neighbours,
so an order with few is sought: greedy elimination with random noise, then pairing the arguments of
wide gates anew along the tree just found, over and over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.elimination import order_kernels
from faulttree.engine.elimination.binary import BinaryNet, EliminationTree, binarise
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.netlist import Netlist

MOST_VERTICES = 20_000  # the bit matrix then takes 50 MB
TRIES = 8  # greedy orders for one way of pairing
NOISE = (0.0, 0.2, 0.5, 0.5, 0.8)
PATIENCE = 6  # rounds without gain before the search goes back to the best
SLACK = 1.0  # a pairing this much dearer (in powers of two) is still followed
KEPT = 8


@dataclass(frozen=True)
class Decomposition:
    """An elimination order of a binary net.

    order : its nodes, the first to be summed out first
    ties : how many neighbours order[i] has when it goes
    """

    net: BinaryNet
    order: NDArray[np.int64]
    ties: NDArray[np.int64]

    @property
    def width(self) -> int:
        """Most neighbours of any node when it goes."""
        return int(self.ties.max(initial=0))

    def cost_from(self, place: int) -> float:
        """What is still to do from order[place] on: log2 of the sum of two to the number of neighbours."""
        return float(np.log2(1.0 + np.exp2(self.ties[place:].astype(np.float64)).sum()))

    @property
    def cost(self) -> float:
        """What is to do in all."""
        return self.cost_from(0)


class DecompositionSearch:
    """An endless, seeded search; `found` holds the best decompositions so far, cheapest first."""

    def __init__(self, netlist: Netlist, watch: Watch, *, seed: int = 1) -> None:
        self.found: list[Decomposition] = []
        self._netlist = netlist
        self._watch = watch
        self._random = np.random.default_rng(seed)
        self._net = binarise(netlist)
        self._present_cost = np.inf
        self._since_gain = 0

    def search(self, rounds: int) -> None:
        """Go on for some rounds, each one pairing of arguments and a few orders for it."""
        for _ in range(rounds):
            self._watch.check()
            found = min((self._try_order() for _ in range(TRIES)), key=lambda d: d.cost)
            self._since_gain = 0 if not self.found or found.cost < self.found[0].cost else self._since_gain + 1
            self.found = sorted([*self.found, found], key=lambda d: d.cost)[:KEPT]
            if self._since_gain > PATIENCE:
                found, self._since_gain = self.found[0], 0
            elif found.cost > self._present_cost + SLACK:
                continue
            self._present_cost = found.cost
            self._net = binarise(self._netlist, (found.net, build_tree(found)))

    def _try_order(self) -> Decomposition:
        net = self._net
        order, ties = np.empty(net.nodes, np.int64), np.empty(net.nodes, np.int64)
        strength = float(self._random.choice(NOISE))
        order_kernels.eliminate_greedily(_tie(net), self._random.random(net.nodes), strength, order, ties)
        return Decomposition(net, order, ties)


def _tie(net: BinaryNet) -> NDArray[np.uint64]:
    """Adjacency of the nodes of a binary net as rows of bits."""
    if net.nodes > MOST_VERTICES:
        raise LimitReached("nodes", f"Variable elimination takes at most {MOST_VERTICES:,} two-argument gates.")
    rows = np.zeros((net.nodes, (net.nodes + 63) // 64), np.uint64)
    for group in _groups(net):
        for u in group:
            for v in group:
                if u != v:
                    rows[u, v >> 6] |= np.uint64(1 << (v & 63))
    return rows


def _groups(net: BinaryNet) -> list[tuple[int, int, int]]:
    return [(net.variables + i, gate.a >> 1, gate.b >> 1) for i, gate in enumerate(net.gates)]


def build_tree(decomposition: Decomposition) -> EliminationTree:
    """Return the elimination tree of an order."""
    net, order = decomposition.net, decomposition.order.tolist()
    place = [0] * net.nodes
    for rank, node in enumerate(order):
        place[node] = rank
    later: list[set[int]] = [set() for _ in range(net.nodes)]  # neighbours that go after the node
    for group in _groups(net):
        for u in group:
            later[u].update(v for v in group if place[v] > place[u])
    parent = [-1] * net.nodes
    for node in order:
        if later[node]:
            parent[node] = above = min(later[node], key=lambda v: place[v])
            later[above].update(later[node])
            later[above].discard(above)
    return EliminationTree(place, parent)
