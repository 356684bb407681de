"""Checks that nothing is defined by itself, however long the way round."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping

import networkx as nx

from faulttree.engine.events.parts import parameters_in
from faulttree.engine.model import Gate, Model, Parameter, references
from faulttree.engine.problems import Problems

MOST_PRINTED = 200


def check_gate_cycles(problems: Problems, model: Model) -> None:
    """No gate is below itself."""
    uses = {name: references(gate.formula) for name, gate in model.gates.items()}
    _check(problems, "gate", uses, model.gates)


def check_parameter_cycles(problems: Problems, model: Model) -> bool:
    """No parameter depends on itself; returns whether that holds."""
    uses = {name: parameters_in(parameter.expression) for name, parameter in model.parameters.items()}
    return _check(problems, "parameter", uses, model.parameters)


def _check(
    problems: Problems, kind: str, uses: Mapping[str, Iterable[str]], elements: Mapping[str, Gate | Parameter]
) -> bool:
    graph = nx.DiGraph((name, child) for name, below in uses.items() for child in below if child in uses)
    place = {name: position for position, name in enumerate(uses)}
    sound = True
    for component in nx.strongly_connected_components(graph):
        start = min(component, key=place.__getitem__)
        if len(component) == 1 and not graph.has_edge(start, start):
            continue
        sound = False
        path = find_shortest_cycle(graph, start)
        message = f"The definition goes round in a circle: {_print_path([*path, start])}."
        line = elements[start].placing.line
        problems.add(f"{kind} {start}", line, message, "Break the circle at one of these.", whole=True)
    return sound


def _print_path(path: list[str]) -> str:
    """The names in order; of a very long path the middle is counted instead."""
    if len(path) > MOST_PRINTED:
        half = MOST_PRINTED // 2
        path = [*path[:half], f"({len(path) - 2 * half:,} more)", *path[-half:]]
    return " > ".join(path)


def find_shortest_cycle(graph: nx.DiGraph, start: str) -> list[str]:
    """Return the shortest way from a node back to itself, which there must be, the node once, first."""
    came_from: dict[str, str] = {}
    waiting = deque([start])
    while waiting:
        node = waiting.popleft()
        for child in graph.successors(node):
            if child == start:
                path = [node]
                while path[-1] != start:
                    path.append(came_from[path[-1]])
                return path[::-1]
            if child not in came_from:
                came_from[child] = node
                waiting.append(child)
    raise ValueError(f"no way leads from {start!r} back to it")
