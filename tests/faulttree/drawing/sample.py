"""Graphs for the tests of the drawing."""

from __future__ import annotations

import random

from faulttree.drawing.graph import Child, FaultGraph, Node


def gate(name: str, kind: str, *children: str, low: int | None = None, high: int | None = None) -> Node:
    """A gate; an input with a leading ! is negated."""
    inputs = tuple(Child(child.lstrip("!"), child.startswith("!")) for child in children)
    return Node(name, kind, f"Gate {name}", inputs, low, high)


def event(name: str, label: str = "") -> Node:
    """A basic event."""
    return Node(name, "basic", label, probability=1e-3)


def graph(*nodes: Node, tops: tuple[str, ...] = ("top",)) -> FaultGraph:
    """A graph of these nodes, with the events that are named but not given."""
    known = {node.name: node for node in nodes}
    for node in nodes:
        for child in node.children:
            known.setdefault(child.name, event(child.name))
    return FaultGraph(known, tops)


SHARED = graph(
    gate("top", "and", "left", "right"),
    gate("left", "or", "a", "shared"),
    gate("right", "or", "b", "shared"),
    gate("shared", "atleast", "c", "d", "e", low=2),
)


def chain(depth: int) -> FaultGraph:
    """A very deep tree."""
    gates = [gate(f"g{i}", "or", f"g{i + 1}", f"e{i}") for i in range(depth)]
    return graph(*gates, gate(f"g{depth}", "or", "x", "y"), tops=("g0",))


def bushy(width: int, depth: int) -> FaultGraph:
    """A full tree of gates with `width` inputs each."""
    nodes = []
    level = ["top"]
    for number in range(depth):
        below = []
        for name in level:
            children = [f"{name}{i}" if number < depth - 1 else f"e{name}{i}" for i in range(width)]
            nodes.append(gate(name, "or", *children))
            below += children
        level = below
    return graph(*nodes)


def random_tree(seed: int, gates: int = 40) -> FaultGraph:
    """A tree of about so many gates, with one to five inputs each."""
    dice = random.Random(seed)
    nodes, waiting, number = [], ["top"], 0
    while waiting:
        name, children = waiting.pop(0), []
        for _ in range(dice.randint(1, 5)):
            number += 1
            is_gate = len(nodes) + len(waiting) < gates and dice.random() < 0.55
            children.append(f"{'g' if is_gate else 'e'}{number}")
        waiting += [child for child in children if child.startswith("g")]
        nodes.append(gate(name, "or", *children))
    return graph(*nodes)
