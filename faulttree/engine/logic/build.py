"""Make netlists: merge identical gates, fold constants, normalise, one gate at a time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from faulttree.engine.logic.netlist import FALSE, TRUE, Kind, Literal, NetGate, Netlist


class NetBuilder:
    """Builds a Netlist bottom-up; two gates that are equal up to De Morgan become one node.

    Variables are numbered first, so their names must be known at the start.
    """

    def __init__(self, variables: Iterable[str]) -> None:
        self.variables = tuple(variables)
        self.gates: list[NetGate | None] = []
        self._known: dict[tuple[int, int, tuple[Literal, ...]], Literal] = {}

    def finish(self, root: Literal) -> Netlist:
        """Return the netlist with this root."""
        return Netlist(self.variables, self.gates, root)

    def both(self, arguments: Iterable[Literal]) -> Literal:
        """AND of any number of literals; none gives TRUE."""
        kept = set(arguments)
        kept.discard(TRUE)
        if FALSE in kept or any(literal ^ 1 in kept for literal in kept):
            return FALSE
        if len(kept) < 2:
            return kept.pop() if kept else TRUE
        return self._node(Kind.AND, tuple(sorted(kept)))

    def either(self, arguments: Iterable[Literal]) -> Literal:
        """OR of any number of literals; none gives FALSE."""
        kept = set(arguments)
        kept.discard(FALSE)
        if TRUE in kept or any(literal ^ 1 in kept for literal in kept):
            return TRUE
        if len(kept) < 2:
            return kept.pop() if kept else FALSE
        return self._node(Kind.OR, tuple(sorted(kept)))

    def odd(self, arguments: Iterable[Literal]) -> Literal:
        """XOR: true when an odd number of arguments is true."""
        sign = 0
        kept: set[Literal] = set()
        for literal in arguments:
            if literal < 0:
                sign ^= literal == TRUE
                continue
            sign ^= literal & 1
            kept ^= {literal & ~1}
        if not kept:
            return TRUE if sign else FALSE
        if len(kept) == 1:
            return kept.pop() ^ sign
        return self._node(Kind.XOR, tuple(sorted(kept))) ^ sign

    def at_least(self, k: int, arguments: Iterable[Literal]) -> Literal:
        """True when k or more arguments are true; an argument given twice counts twice."""
        counts = Counter(arguments)
        k -= counts.pop(TRUE, 0)
        counts.pop(FALSE, None)
        for literal in list(counts):
            opposed = min(counts[literal], counts[literal ^ 1])  # a pair x, not x counts exactly one
            if opposed:
                counts[literal] -= opposed
                counts[literal ^ 1] -= opposed
                k -= opposed
        kept = tuple(sorted(counts.elements()))
        if k <= 0:
            return TRUE
        if k > len(kept):
            return FALSE
        if k == 1:
            return self.either(kept)
        if k == len(kept):
            return self.both(kept)
        return self._node(Kind.ATLEAST, kept, k)

    def combine(self, kind: Kind, arguments: Iterable[Literal], k: int = 0) -> Literal:
        """Return the literal of a gate of this kind, simplified."""
        if kind == Kind.AND:
            return self.both(arguments)
        if kind == Kind.OR:
            return self.either(arguments)
        if kind == Kind.XOR:
            return self.odd(arguments)
        return self.at_least(k, arguments)

    def _node(self, kind: Kind, arguments: tuple[Literal, ...], k: int = 0) -> Literal:
        key, sign = _canonical(kind, arguments, k)
        known = self._known.get(key)
        if known is None:
            node = len(self.variables) + len(self.gates)
            self.gates.append(NetGate(kind, arguments, k))
            known = self._known[key] = 2 * node ^ sign
        return known ^ sign


def _canonical(kind: Kind, arguments: tuple[Literal, ...], k: int) -> tuple[tuple[int, int, tuple[Literal, ...]], int]:
    """Key shared by a gate and its De Morgan twin, and the sign of this one relative to the key."""
    if kind == Kind.XOR:
        return (kind, 0, arguments), 0
    if kind == Kind.AND:
        return (Kind.AND, 0, arguments), 0
    flipped = tuple(sorted(literal ^ 1 for literal in arguments))
    if kind == Kind.OR:
        return (Kind.AND, 0, flipped), 1
    dual = len(arguments) - k + 1
    if (dual, flipped) < (k, arguments):
        return (kind, dual, flipped), 1
    return (kind, k, arguments), 0


def rebuild(netlist: Netlist, variables: tuple[str, ...] | None = None) -> Netlist:
    """Return the netlist with dead gates dropped, constants folded and identical gates merged."""
    builder = NetBuilder(netlist.variables if variables is None else variables)
    count = len(netlist.variables)
    new: dict[int, Literal] = {node: 2 * node for node in range(count)}
    for node in netlist.topological():
        gate = netlist.gate(node)
        arguments = [a if a < 0 else new[a >> 1] ^ (a & 1) for a in gate.arguments]
        new[node] = builder.combine(gate.kind, arguments, gate.k)
    root = netlist.root
    return builder.finish(root if root < 0 else new[root >> 1] ^ (root & 1))
