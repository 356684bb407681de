"""Netlists without negations, and what to put in place of a netlist that has them."""

from __future__ import annotations

from dataclasses import dataclass, field

from faulttree.engine.logic.build import NetBuilder
from faulttree.engine.logic.netlist import FALSE, TRUE, Kind, Literal, NetGate, Netlist, Node

Part = int
"""A part of a positive net: variable v >= 0, or gate g written as ~g."""


@dataclass
class PositiveNet:
    """A monotone function as AND and OR gates of two arguments, arguments before users.

    conjunctions : whether gate g is an AND (else an OR)
    arguments : the two parts of each gate
    support : variables below each gate, as bits of an integer
    """

    conjunctions: list[bool] = field(default_factory=list)
    arguments: list[tuple[Part, Part]] = field(default_factory=list)
    support: list[int] = field(default_factory=list)
    root: Part = 0

    def support_of(self, part: Part) -> int:
        """Variables below a part."""
        return 1 << part if part >= 0 else self.support[~part]

    def is_apart(self, gate: int) -> bool:
        """True when the two arguments of a gate share no variable, so that they are independent."""
        a, b = self.arguments[gate]
        return not self.support_of(a) & self.support_of(b)


def drop_negations(netlist: Netlist, settled: frozenset[Node] | None = None) -> Netlist:
    """Return a monotone netlist in place of one with negations.

    Without `settled`: every "x did not occur" is taken as true. The result is true wherever the
    netlist is, so its probability is an upper bound.
    With `settled`, the variables that occur negated: they are taken as not occurring. The result is
    the netlist in that case, so its probability times that of the case is a lower bound.
    """
    builder = NetBuilder(netlist.variables)
    known: dict[Literal, Literal] = {}
    stack = [netlist.root]
    while stack:
        literal = stack[-1]
        if literal in known or literal < 0:
            stack.pop()
            continue
        if not netlist.is_gate(literal >> 1):
            taken_false = settled is not None and literal >> 1 in settled
            known[literal] = TRUE if literal & 1 else FALSE if taken_false else literal
            continue
        gate = netlist.gate(literal >> 1)
        missing = [a for a in _needed(gate, literal & 1) if a not in known]
        if missing:
            stack.extend(missing)
        else:
            known[literal] = _push_sign(builder, gate, literal & 1, known)
    return builder.finish(known[netlist.root])


def negated_variables(netlist: Netlist) -> frozenset[Node]:
    """Variables that are reached through a negation or an exclusive or."""
    found = set()
    stack = [netlist.root]
    seen = set(stack)
    while stack:
        literal = stack.pop()
        if not netlist.is_gate(literal >> 1):
            if literal & 1:
                found.add(literal >> 1)
            continue
        for below in _needed(netlist.gate(literal >> 1), literal & 1):
            if below not in seen:
                seen.add(below)
                stack.append(below)
    return frozenset(found)


def _needed(gate: NetGate, sign: int) -> list[Literal]:
    if gate.kind == Kind.XOR:
        return [literal for a in gate.arguments for literal in (a, a ^ 1)]
    return [a ^ sign for a in gate.arguments]


def _push_sign(builder: NetBuilder, gate: NetGate, sign: int, known: dict[Literal, Literal]) -> Literal:
    if gate.kind == Kind.XOR:
        return _parity(builder, [(known[a], known[a ^ 1]) for a in gate.arguments], sign)
    arguments = [known[a ^ sign] for a in gate.arguments]
    if gate.kind == Kind.ATLEAST:
        return builder.at_least(len(arguments) - gate.k + 1 if sign else gate.k, arguments)
    conjunction = (gate.kind == Kind.AND) != bool(sign)
    return builder.both(arguments) if conjunction else builder.either(arguments)


def _parity(builder: NetBuilder, pairs: list[tuple[Literal, Literal]], sign: int) -> Literal:
    odd, even = pairs[0]
    for true, false in pairs[1:]:
        odd, even = (
            builder.either([builder.both([odd, false]), builder.both([even, true])]),
            builder.either([builder.both([odd, true]), builder.both([even, false])]),
        )
    return even if sign else odd


def binarise(netlist: Netlist) -> PositiveNet:
    """Return the net of a monotone netlist (AND, OR, ATLEAST, no sign) whose root is not a constant.

    A k-of-n gate becomes a grid of at most n k gates.
    """
    net = PositiveNet()
    made: dict[tuple[bool, Part, Part], Part] = {}
    parts: dict[Node, Part] = {node: node for node in range(len(netlist.variables))}

    def gate(conjunction: bool, a: Part, b: Part) -> Part:
        if a == b:
            return a
        key = (conjunction, min(a, b), max(a, b))
        if key not in made:
            net.conjunctions.append(conjunction)
            net.arguments.append((a, b))
            net.support.append(net.support_of(a) | net.support_of(b))
            made[key] = ~(len(net.arguments) - 1)
        return made[key]

    def chain(conjunction: bool, arguments: list[Part]) -> Part:
        level = sorted(set(arguments), key=lambda part: net.support_of(part).bit_count())
        while len(level) > 1:  # in pairs, so that parts meet others of like size
            paired = [gate(conjunction, a, b) for a, b in zip(level[::2], level[1::2], strict=False)]
            level = paired + (level[-1:] if len(level) % 2 else [])
        return level[0]

    def at_least(k: int, arguments: list[Part]) -> Part:
        row: list[Part | None] = [None] * (k + 1)  # row[j]: at least j of the parts seen; None is false
        for seen, part in enumerate(arguments):
            for j in range(min(k, seen + 1), 0, -1):
                below, known = row[j - 1], row[j]
                more = part if j == 1 else None if below is None else gate(True, part, below)
                row[j] = more if known is None else known if more is None else gate(False, known, more)
        result = row[k]
        assert result is not None
        return result

    for node in netlist.topological():
        g = netlist.gate(node)
        arguments = [parts[a >> 1] for a in g.arguments]
        parts[node] = at_least(g.k, arguments) if g.kind == Kind.ATLEAST else chain(g.kind == Kind.AND, arguments)
    net.root = parts[netlist.root >> 1]
    return net
