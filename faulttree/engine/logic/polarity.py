"""Whether a netlist can only rise with its variables, seen from its signs alone."""

from __future__ import annotations

from faulttree.engine.logic.netlist import Kind, Netlist, Node


def is_plainly_monotone(netlist: Netlist) -> bool:
    """True when no variable is reached through a negation or an exclusive or.

    True proves a coherent function; False only says that the diagrams must be asked.
    """
    if netlist.root < 0:
        return True
    stack: list[tuple[Node, int]] = [(netlist.root >> 1, netlist.root & 1)]
    seen = set(stack)
    while stack:
        node, sign = stack.pop()
        if not netlist.is_gate(node):
            if sign:
                return False
            continue
        gate = netlist.gate(node)
        signs = (0, 1) if gate.kind == Kind.XOR else (sign,)
        for literal in gate.arguments:
            for s in signs:
                below = (literal >> 1, s ^ (literal & 1))
                if below not in seen:
                    seen.add(below)
                    stack.append(below)
    return True
