"""A netlist as gates of two arguments, paired along an elimination tree."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field

from faulttree.engine.logic.netlist import FALSE, TRUE, Kind, Literal, Netlist, Node


@dataclass(frozen=True, slots=True)
class BinaryGate:
    """AND, or exclusive or, of two literals of different nodes."""

    exclusive: bool
    a: Literal
    b: Literal


@dataclass(slots=True)
class BinaryNet:
    """Nodes 0..V-1 are variables, node V+i is gate i; arguments stand before users.

    root : literal of the function, or TRUE or FALSE
    image : for each node of the netlist, the node of this net that computes it, up to sign
    """

    variables: int
    gates: list[BinaryGate] = field(default_factory=list)
    root: Literal = FALSE
    image: dict[Node, Node] = field(default_factory=dict)

    @property
    def nodes(self) -> int:
        """Variables and gates together."""
        return self.variables + len(self.gates)


@dataclass(frozen=True, slots=True)
class EliminationTree:
    """Where each node of a binary net is eliminated.

    place : rank of each node in the elimination order
    parent : for each node, the first to go of those it is tied to when it goes; -1 for none
    """

    place: Sequence[int]
    parent: Sequence[int]


def binarise(netlist: Netlist, known: tuple[BinaryNet, EliminationTree] | None = None) -> BinaryNet:
    """Return an equal net of two-argument gates.

    How the arguments of a wide gate are paired decides how many nodes a separator must hold. Given
    an elimination tree of an earlier binary net of the same netlist, arguments that are eliminated
    in one branch are combined there, and only the result goes on to the next branch. Without one,
    they are chained in the given order. A k-of-n gate becomes a grid of at most n k gates.
    """
    maker = _Maker(netlist, known)
    for node in netlist.topological():
        maker.add(node)
    return maker.finish()


class _Maker:
    def __init__(self, netlist: Netlist, known: tuple[BinaryNet, EliminationTree] | None) -> None:
        self._netlist = netlist
        self._known = known
        self._net = BinaryNet(len(netlist.variables))
        self._literals: dict[Node, Literal] = {v: 2 * v for v in range(len(netlist.variables))}
        self._made: dict[BinaryGate, Literal] = {}

    def add(self, node: Node) -> None:
        gate = self._netlist.gate(node)
        flip = 1 if gate.kind == Kind.OR else 0  # OR is AND with every sign turned
        arguments = [(self._literal(a) ^ flip, a >> 1) for a in gate.arguments]
        if gate.kind == Kind.ATLEAST:
            self._literals[node] = self._at_least(gate.k, [literal for literal, _ in self._in_order(arguments)])
        else:
            self._literals[node] = self._along_tree(gate.kind == Kind.XOR, arguments) ^ flip

    def finish(self) -> BinaryNet:
        net = self._net
        net.root = self._literal(self._netlist.root)
        net.image = {node: literal >> 1 for node, literal in self._literals.items() if literal >= 0}
        return net

    def _literal(self, literal: Literal) -> Literal:
        return literal if literal < 0 else self._literals[literal >> 1] ^ (literal & 1)

    def _in_order(self, arguments: list[tuple[Literal, Node]]) -> list[tuple[Literal, Node]]:
        if self._known is None:
            return arguments
        net, tree = self._known
        return sorted(arguments, key=lambda argument: tree.place[net.image.get(argument[1], 0)])

    def _along_tree(self, exclusive: bool, arguments: list[tuple[Literal, Node]]) -> Literal:
        """Combine arguments where their ways up the elimination tree meet."""
        if self._known is None:
            return self._chain(exclusive, [literal for literal, _ in arguments])
        net, tree = self._known
        waiting: dict[Node, list[Literal]] = {}
        for literal, node in arguments:
            waiting.setdefault(net.image.get(node, 0), []).append(literal)
        heap = [(tree.place[node], node) for node in waiting]
        heapq.heapify(heap)
        tops = []
        while heap:
            _, node = heapq.heappop(heap)
            combined = self._chain(exclusive, waiting.pop(node))
            above = tree.parent[node]
            if above < 0 or not heap:
                tops.append(combined)
            elif above in waiting:
                waiting[above].append(combined)
            else:
                waiting[above] = [combined]
                heapq.heappush(heap, (tree.place[above], above))
        return self._chain(exclusive, tops)

    def _chain(self, exclusive: bool, literals: list[Literal]) -> Literal:
        result = literals[0]
        for literal in literals[1:]:
            result = self._odd(result, literal) if exclusive else self._both(result, literal)
        return result

    def _at_least(self, k: int, literals: list[Literal]) -> Literal:
        row = [TRUE] + [FALSE] * k  # row[j]: at least j of the literals seen so far
        for seen, literal in enumerate(literals):
            for j in range(min(k, seen + 1), 0, -1):
                row[j] = self._both(row[j] ^ 1, self._both(literal, row[j - 1]) ^ 1) ^ 1
        return row[k]

    def _both(self, a: Literal, b: Literal) -> Literal:
        if FALSE in (a, b) or a == b ^ 1:
            return FALSE
        if a in (b, TRUE):
            return b
        return a if b == TRUE else self._gate(BinaryGate(False, min(a, b), max(a, b)))

    def _odd(self, a: Literal, b: Literal) -> Literal:
        if a < 0 or b < 0:
            constant, other = (a, b) if a < 0 else (b, a)
            return other ^ (constant == TRUE)
        sign, a, b = (a ^ b) & 1, a & ~1, b & ~1
        if a == b:
            return FALSE ^ sign
        return self._gate(BinaryGate(True, min(a, b), max(a, b))) ^ sign

    def _gate(self, gate: BinaryGate) -> Literal:
        if gate not in self._made:
            self._made[gate] = 2 * self._net.nodes
            self._net.gates.append(gate)
        return self._made[gate]
