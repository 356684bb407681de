"""A Boolean function as a list of gates over signed literals; NOT is a sign, not a gate.

Nodes 0..V-1 are variables (basic events), nodes V..V+G-1 are gates. A literal is `2 * node`, or
`2 * node + 1` for its negation, so `literal ^ 1` negates. The constants are the two negative
literals TRUE = -2 and FALSE = -1, which `^ 1` also turns into each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import TypeAlias

Literal: TypeAlias = int
Node: TypeAlias = int

TRUE: Literal = -2
FALSE: Literal = -1


class Kind(IntEnum):
    """What a gate computes from its arguments."""

    AND = 0
    OR = 1
    ATLEAST = 2  # at least k arguments are true
    XOR = 3  # an odd number of arguments is true


@dataclass(slots=True)
class NetGate:
    """One gate: kind, signed arguments, and k for ATLEAST (0 otherwise)."""

    kind: Kind
    arguments: tuple[Literal, ...]
    k: int = 0


@dataclass(slots=True)
class Netlist:
    """A rooted, acyclic netlist.

    variables : names of nodes 0..V-1
    gates : gate of node V+i at index i; None where a gate has been folded away
    root : literal of the function
    """

    variables: tuple[str, ...]
    gates: list[NetGate | None]
    root: Literal

    def gate(self, node: Node) -> NetGate:
        """Return the gate of a node; the node must be a live gate."""
        gate = self.gates[node - len(self.variables)]
        assert gate is not None
        return gate

    def is_gate(self, node: Node) -> bool:
        """True for a gate, False for a variable."""
        return node >= len(self.variables)

    def topological(self) -> list[Node]:
        """Gates reachable from the root, arguments before users (explicit stack)."""
        count = len(self.variables)
        order: list[Node] = []
        if self.root < 0 or self.root >> 1 < count:
            return order
        seen = {self.root >> 1}
        stack: list[tuple[Node, int]] = [(self.root >> 1, 0)]
        while stack:
            node, position = stack.pop()
            arguments = self.gate(node).arguments
            while position < len(arguments):
                child = arguments[position] >> 1
                position += 1
                if child >= count and child not in seen:
                    seen.add(child)
                    stack.append((node, position))
                    stack.append((child, 0))
                    break
            else:
                order.append(node)
        return order
