"""What of a revision can be overridden, with what it says now."""

from __future__ import annotations

from dataclasses import dataclass

from config.kit.figures import write_plain
from faulttree.bridge import read_current, read_graph, say_expression
from faulttree.models import TreeRevision


@dataclass(frozen=True, slots=True)
class Settable:
    """One element; `now` says in words what the tree holds, `is_member` that its probability follows from a group."""

    kind: str  # "event", "house" or "parameter"
    name: str
    label: str
    now: str
    is_member: bool = False


def list_settable(revision: TreeRevision) -> list[Settable]:
    """Return events, members of common-cause groups, house events and parameters, each in the order of the model."""
    model = read_current(revision)
    graph = read_graph(model, None)
    found = []
    for node in graph.nodes.values():
        if node.kind == "basic":
            now = "depends on the mission time" if node.probability is None else f"now {write_plain(node.probability)}"
            found.append(Settable("event", node.name, node.label, now))
    for group in model.common_cause_groups.values():
        for name in group.members:
            label = model.basic_events[name].placing.label
            found.append(Settable("event", name, label, f"member of the group {group.name}", True))
    for house in model.house_events.values():
        now = f"now {'on' if house.value else 'off'}"
        found.append(Settable("house", house.name, house.placing.label, now))
    for parameter in model.parameters.values():
        unit = f" {parameter.unit}" if parameter.unit else ""
        now = f"now {say_expression(parameter.expression)}{unit}"
        found.append(Settable("parameter", parameter.name, parameter.placing.label, now))
    return found
