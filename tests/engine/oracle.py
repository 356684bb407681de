"""Truth by enumeration: what every engine result must agree with on small functions."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from fractions import Fraction

from faulttree.engine.logic.netlist import TRUE, Kind, Netlist

State = tuple[bool, ...]


def evaluate(netlist: Netlist, state: State) -> bool:
    """Value of a netlist in one state of its variables, gate by gate."""
    value: dict[int, bool] = dict(enumerate(state))
    for node in netlist.topological():
        gate = netlist.gate(node)
        arguments = [a == TRUE if a < 0 else value[a >> 1] != bool(a & 1) for a in gate.arguments]
        value[node] = _apply(gate.kind, arguments, gate.k)
    root = netlist.root
    return root == TRUE if root < 0 else value[root >> 1] != bool(root & 1)


def _apply(kind: Kind, arguments: list[bool], k: int) -> bool:
    if kind == Kind.AND:
        return all(arguments)
    if kind == Kind.OR:
        return any(arguments)
    if kind == Kind.XOR:
        return sum(arguments) % 2 == 1
    return sum(arguments) >= k


def true_states(function: Callable[[State], bool], count: int) -> list[State]:
    """Every state of `count` variables in which the function is true."""
    return [state for state in itertools.product((False, True), repeat=count) if function(state)]


def weight(state: State, p: Sequence[float]) -> Fraction:
    """Probability of one state of independent variables, as an exact fraction."""
    result = Fraction(1)
    for occurred, q in zip(state, p, strict=True):
        result *= Fraction(q) if occurred else 1 - Fraction(q)
    return result


def probability(states: list[State], p: Sequence[float]) -> Fraction:
    """Total probability of the states."""
    return sum((weight(state, p) for state in states), Fraction(0))


def minimal_sets(states: list[State]) -> set[frozenset[int]]:
    """Minimal solutions: the sets of occurred variables that contain no other one (Rauzy 2001)."""
    families = sorted({frozenset(i for i, on in enumerate(s) if on) for s in states}, key=len)
    kept: list[frozenset[int]] = []
    for family in families:
        if not any(small <= family for small in kept):
            kept.append(family)
    return set(kept)
