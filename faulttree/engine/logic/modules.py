"""Modules: parts of a netlist that share nothing with the rest, solved once each on their own.

A gate is a module when no node below it is used from outside. Found in two passes (Dutuit and
Rauzy 1996, "A linear-time algorithm to find modules of fault trees", IEEE Trans. Reliability 45).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from faulttree.engine.logic.netlist import TRUE, Kind, Literal, NetGate, Netlist, Node


@dataclass(slots=True)
class Module:
    """One module: a netlist over its inputs, false when none of them is true.

    inputs : for each local variable, the global variable i >= 0, or module j written as ~j
    """

    netlist: Netlist
    inputs: tuple[int, ...]


def split_modules(netlist: Netlist) -> tuple[list[Module], int]:
    """Return the modules of a netlist, inputs before users, and a sign.

    The function is that of the last module, negated when the sign is 1. A module that would be true
    when nothing occurred is negated, and its users see the negation: so a module stands in them for
    something that happens. A constant has no module: false for sign 0, true for sign 1.
    """
    root = netlist.root
    if root < 0:
        return [], int(root == TRUE)
    if not netlist.is_gate(root >> 1):
        return [Module(Netlist((netlist.variables[root >> 1],), [], 0), (root >> 1,))], root & 1
    grouped = _group_private_arguments(netlist)
    heads = find_modules(grouped)
    index: dict[Node, int] = {}
    signs: list[int] = []
    modules: list[Module] = []
    for head in (node for node in grouped.topological() if node in heads):
        module = _cut_out(grouped, head, index, signs)
        sign = int(_value_at_rest(module.netlist))
        module.netlist.root ^= sign
        index[head] = len(modules)
        signs.append(sign)
        modules.append(module)
    return modules, (root & 1) ^ signs[-1]


def _value_at_rest(netlist: Netlist) -> bool:
    """Value of a netlist when no variable is true."""
    value: dict[Node, bool] = dict.fromkeys(range(len(netlist.variables)), False)
    for node in netlist.topological():
        gate = netlist.gate(node)
        true = sum(value[a >> 1] != bool(a & 1) for a in gate.arguments)
        needed = {Kind.AND: len(gate.arguments), Kind.OR: 1, Kind.ATLEAST: gate.k}
        value[node] = true % 2 == 1 if gate.kind == Kind.XOR else true >= needed[gate.kind]
    return value[netlist.root >> 1] != bool(netlist.root & 1)


def find_modules(netlist: Netlist) -> set[Node]:
    """Return the gates that are modules; the root gate always is."""
    first, last, done = _visit_dates(netlist)
    earliest: dict[Node, int] = {}
    latest: dict[Node, int] = {}
    modules: set[Node] = set()
    for node in netlist.topological():
        low, high = done[node], 0
        for literal in netlist.gate(node).arguments:
            child = literal >> 1
            low = min(low, first[child], earliest.get(child, low))
            high = max(high, last[child], latest.get(child, 0))
        earliest[node], latest[node] = low, high
        if low > first[node] and high < done[node]:
            modules.add(node)
    return modules


def _visit_dates(netlist: Netlist) -> tuple[dict[Node, int], dict[Node, int], dict[Node, int]]:
    """Dates of the first and last visit of each node and of the end of each gate's first visit."""
    date = 0
    first: dict[Node, int] = {}
    last: dict[Node, int] = {}
    done: dict[Node, int] = {}
    stack: list[tuple[Node, bool]] = [(netlist.root >> 1, False)]
    while stack:
        node, leaving = stack.pop()
        date += 1
        if leaving:
            done[node] = date
            continue
        last[node] = date
        if node in first:
            continue
        first[node] = date
        if netlist.is_gate(node):
            stack.append((node, True))
            stack.extend((literal >> 1, False) for literal in netlist.gate(node).arguments)
    return first, last, done


def count_uses(netlist: Netlist) -> Counter[Node]:
    """How often each node below the root is an argument."""
    return Counter(a >> 1 for node in netlist.topological() for a in netlist.gate(node).arguments)


def _group_private_arguments(netlist: Netlist) -> Netlist:
    """Give the arguments of a gate that nobody else uses a gate of their own, which is then a module."""
    uses = count_uses(netlist)
    heads = find_modules(netlist)
    gates = list(netlist.gates)
    base = len(netlist.variables)
    for node in netlist.topological():
        gate = netlist.gate(node)
        if gate.kind == Kind.ATLEAST:
            continue
        private = [a for a in gate.arguments if uses[a >> 1] == 1 and (a >> 1 < base or a >> 1 in heads)]
        if 2 <= len(private) < len(gate.arguments):
            own = 2 * (base + len(gates))
            gates.append(NetGate(gate.kind, tuple(private)))
            kept = set(private)
            gates[node - base] = NetGate(gate.kind, (*(a for a in gate.arguments if a not in kept), own))
    return Netlist(netlist.variables, gates, netlist.root)


def _cut_out(netlist: Netlist, head: Node, index: dict[Node, int], signs: list[int]) -> Module:
    """Copy the gates of one module; gates in `index` are modules already cut and become variables."""
    inside = _inner_gates(netlist, head, index)
    inputs: dict[Node, int] = {}
    for node in inside:
        for literal in netlist.gate(node).arguments:
            child = literal >> 1
            if child in index or not netlist.is_gate(child):
                inputs.setdefault(child, len(inputs))
    place = {**inputs, **{node: len(inputs) + i for i, node in enumerate(inside)}}
    gates: list[NetGate | None] = []
    for node in inside:
        gate = netlist.gate(node)
        arguments: tuple[Literal, ...] = tuple(
            2 * place[a >> 1] | (a & 1) ^ (signs[index[a >> 1]] if a >> 1 in index else 0) for a in gate.arguments
        )
        gates.append(NetGate(gate.kind, arguments, gate.k))
    names = tuple(netlist.variables[n] if n < len(netlist.variables) else f"module {index[n]}" for n in inputs)
    local = Netlist(names, gates, 2 * place[head])
    return Module(local, tuple(~index[n] if n in index else n for n in inputs))


def _inner_gates(netlist: Netlist, head: Node, index: dict[Node, int]) -> list[Node]:
    """Gates of the module, arguments before users."""
    order: list[Node] = []
    seen = {head}
    stack: list[tuple[Node, bool]] = [(head, False)]
    while stack:
        node, leaving = stack.pop()
        if leaving:
            order.append(node)
            continue
        stack.append((node, True))
        for literal in netlist.gate(node).arguments:
            child = literal >> 1
            if netlist.is_gate(child) and child not in index and child not in seen:
                seen.add(child)
                stack.append((child, False))
    return _sort_topologically(netlist, order, head)


def _sort_topologically(netlist: Netlist, nodes: list[Node], head: Node) -> list[Node]:
    """Order a set of gates so that arguments come before users."""
    members = set(nodes)
    waiting = {n: sum(1 for a in set(netlist.gate(n).arguments) if a >> 1 in members) for n in nodes}
    users: dict[Node, list[Node]] = {n: [] for n in nodes}
    for n in nodes:
        for literal in set(netlist.gate(n).arguments):
            if literal >> 1 in members:
                users[literal >> 1].append(n)
    ready = [n for n in nodes if waiting[n] == 0]
    order = []
    while ready:
        node = ready.pop()
        order.append(node)
        for user in users[node]:
            waiting[user] -= 1
            if waiting[user] == 0:
                ready.append(user)
    assert order[-1] == head
    return order
