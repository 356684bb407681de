"""Rewrite a netlist into a smaller equal one: splice, absorb, factor, until nothing changes.

These rewritings keep the function and can shrink its diagrams by orders of magnitude, but on some
trees they hide structure that an order would have used; callers try both forms.
"""

from __future__ import annotations

from collections import Counter

from faulttree.engine.logic.build import NetBuilder, rebuild
from faulttree.engine.logic.modules import count_uses
from faulttree.engine.logic.netlist import FALSE, TRUE, Kind, Literal, NetGate, Netlist, Node

MAX_ROUNDS = 20

_OPPOSITE = {Kind.AND: Kind.OR, Kind.OR: Kind.AND}


def simplify(netlist: Netlist) -> Netlist:
    """Return an equal netlist after rounds of splicing, absorbing and factoring."""
    current = splice(rebuild(netlist))
    for _ in range(MAX_ROUNDS):
        before = _size(current)
        current = splice(factor(splice(absorb(current))))
        if _size(current) >= before:
            break
    return current


def _size(netlist: Netlist) -> int:
    return sum(1 + len(netlist.gate(node).arguments) for node in netlist.topological())


def splice(netlist: Netlist) -> Netlist:
    """Merge a gate into its only user where both are AND, both OR (also across a negation), or both XOR."""
    uses = count_uses(netlist)
    builder = NetBuilder(netlist.variables)
    new: dict[Node, Literal] = {node: 2 * node for node in range(len(netlist.variables))}
    held: dict[Node, NetGate] = {}  # gates of a single user, not made yet
    for node in netlist.topological():
        gate = netlist.gate(node)
        arguments: list[Literal] = []
        for literal in gate.arguments:
            arguments.extend(_pull_up(builder, new, held, gate.kind, literal))
        if uses[node] == 1 and gate.kind != Kind.ATLEAST:
            held[node] = NetGate(gate.kind, tuple(arguments))
        else:
            new[node] = builder.combine(gate.kind, arguments, gate.k)
    root = netlist.root
    return builder.finish(root if root < 0 else _make(builder, new, held, root))


def _pull_up(
    builder: NetBuilder, new: dict[Node, Literal], held: dict[Node, NetGate], kind: Kind, literal: Literal
) -> list[Literal]:
    """Arguments that stand for a literal inside a gate of this kind."""
    child = held.get(literal >> 1) if literal >= 0 else None
    if child is not None and kind != Kind.ATLEAST:
        if child.kind == kind and (not literal & 1 or kind == Kind.XOR):
            return [*child.arguments, *([TRUE] if literal & 1 else [])]
        if literal & 1 and kind != Kind.XOR and child.kind == _OPPOSITE[kind]:
            return [a ^ 1 for a in child.arguments]
    return [_make(builder, new, held, literal)]


def _make(builder: NetBuilder, new: dict[Node, Literal], held: dict[Node, NetGate], literal: Literal) -> Literal:
    if literal < 0:
        return literal
    node = literal >> 1
    if node in held:
        gate = held.pop(node)
        new[node] = builder.combine(gate.kind, gate.arguments, gate.k)
    return new[node] ^ (literal & 1)


def absorb(netlist: Netlist) -> Netlist:
    """Replace a literal by a constant wherever a gate above has settled it.

    All ways from the root to gate n lead through its dominators. If a dominator is AND(l, ...),
    its value does not depend on n unless l is true, so l may stand as TRUE in n; under OR(l, ...)
    as FALSE. A gate that has l as an argument is never below l, so its ways from the dominator
    avoid l itself.
    """
    settled = _settle(netlist)
    builder = NetBuilder(netlist.variables)
    new: dict[Node, Literal] = {node: 2 * node for node in range(len(netlist.variables))}
    for node in netlist.topological():
        gate = netlist.gate(node)
        facts = settled.get(node, {})
        arguments = []
        for literal in gate.arguments:
            fact = facts.get(literal >> 1)
            if fact is None:
                arguments.append(new[literal >> 1] ^ (literal & 1))
            else:
                arguments.append(TRUE if fact == literal else FALSE)
        new[node] = builder.combine(gate.kind, arguments, gate.k)
    root = netlist.root
    return builder.finish(root if root < 0 else new[root >> 1] ^ (root & 1))


def _settle(netlist: Netlist) -> dict[Node, dict[Node, Literal]]:
    """For each gate, those of its arguments' nodes that are settled above, with the literal that is then true.

    One walk down the tree of dominators, carrying what the gates on the way have settled; the
    topmost one wins, since what it settles holds for everything below.
    """
    below: dict[Node | None, list[Node]] = {}
    for node, above in _find_dominators(netlist).items():
        below.setdefault(above, []).append(node)
    result: dict[Node, dict[Node, Literal]] = {}
    facts: dict[Node, Literal] = {}
    stack: list[tuple[Node, list[Node] | None]] = [(node, None) for node in below.get(None, [])]
    while stack:
        node, added = stack.pop()
        if added is not None:
            for child in added:
                del facts[child]
            continue
        gate = netlist.gate(node)
        known = {a >> 1: facts[a >> 1] for a in gate.arguments if a >> 1 in facts}
        if known:
            result[node] = known
        fresh = [] if gate.kind not in _OPPOSITE else [a for a in gate.arguments if a >> 1 not in facts]
        facts.update((a >> 1, a ^ (gate.kind == Kind.OR)) for a in fresh)
        stack.append((node, [a >> 1 for a in fresh]))
        stack.extend((child, None) for child in below.get(node, []))
    return result


def _find_dominators(netlist: Netlist) -> dict[Node, Node | None]:
    """Immediate dominator of each gate, None for the root; users are met before arguments."""
    downwards = netlist.topological()[::-1]
    dominator: dict[Node, Node | None] = {}
    depth: dict[Node, int] = {}
    for node in downwards:
        dominator.setdefault(node, None)
        above = dominator[node]
        depth[node] = 0 if above is None else depth[above] + 1
        for literal in netlist.gate(node).arguments:
            child = literal >> 1
            if netlist.is_gate(child):
                known = dominator.get(child)
                dominator[child] = node if known is None else _common(known, node, dominator, depth)
    return dominator


def _common(a: Node, b: Node, dominator: dict[Node, Node | None], depth: dict[Node, int]) -> Node:
    """Deepest gate that dominates both."""
    while a != b:
        if depth[a] < depth[b]:
            a, b = b, a
        above = dominator[a]
        assert above is not None
        a = above
    return a


def factor(netlist: Netlist) -> Netlist:
    """Take out what alternatives share: OR(AND(l, a), AND(l, b)) becomes AND(l, OR(a, b)), and the dual."""
    uses = count_uses(netlist)
    builder = NetBuilder(netlist.variables)
    new: dict[Node, Literal] = {node: 2 * node for node in range(len(netlist.variables))}
    for node in netlist.topological():
        gate = netlist.gate(node)
        if gate.kind in _OPPOSITE:
            terms = [_term(netlist, uses, new, gate.kind, literal) for literal in gate.arguments]
            new[node] = _factor_terms(builder, gate.kind, terms)
        else:
            new[node] = builder.combine(gate.kind, [new[a >> 1] ^ (a & 1) for a in gate.arguments], gate.k)
    root = netlist.root
    return builder.finish(root if root < 0 else new[root >> 1] ^ (root & 1))


def _term(
    netlist: Netlist, uses: Counter[Node], new: dict[Node, Literal], kind: Kind, literal: Literal
) -> frozenset[Literal]:
    """What a literal combines by the opposite kind; only gates of a single user are opened."""
    child = literal >> 1
    if netlist.is_gate(child) and uses[child] == 1:
        gate = netlist.gate(child)
        if gate.kind == (_OPPOSITE[kind] if not literal & 1 else kind):
            return frozenset(new[a >> 1] ^ (a & 1) ^ (literal & 1) for a in gate.arguments)
    return frozenset([new[child] ^ (literal & 1)])


def _factor_terms(builder: NetBuilder, kind: Kind, terms: list[frozenset[Literal]]) -> Literal:
    """Literal of `kind` over terms, each the opposite of `kind` over its literals."""
    opposite = _OPPOSITE[kind]
    pool = list(terms)
    finished: list[Literal] = []
    while True:
        counts = Counter(literal for term in pool if len(term) > 1 for literal in term)
        shared, times = max(counts.items(), key=lambda item: (item[1], -item[0]), default=(0, 0))
        if times < 2:
            break
        inside = [term for term in pool if len(term) > 1 and shared in term]
        pool = [term for term in pool if not (len(term) > 1 and shared in term)]
        rest = _factor_terms(builder, kind, [term - {shared} for term in inside])
        finished.append(builder.combine(opposite, [shared, rest]))
    finished.extend(builder.combine(opposite, term) for term in pool)
    return builder.combine(kind, finished)
