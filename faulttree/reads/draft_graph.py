"""A draft as it is drawn: as far as it has come, members of common-cause groups as the events they are."""

from __future__ import annotations

from faulttree.drawing.graph import Child, FaultGraph, Node
from faulttree.engine.editing.inputs import inputs_of
from faulttree.engine.editing.marks import is_transfer
from faulttree.engine.errors import BadModel
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.events.parts import is_timed
from faulttree.engine.model import Combination, Expression, Model
from faulttree.engine.validate import find_tops


def draw_draft(model: Model, mission_time: float | None) -> FaultGraph:
    """Return the graph of a flat model, finished or not; probabilities at the mission time (hours) where known."""
    nodes: dict[str, Node] = {}
    for gate in model.gates.values():
        formula = gate.formula
        assert isinstance(formula, Combination)
        children = tuple(Child(item.name, item.negated) for item in inputs_of(gate))
        kind = "transfer" if is_transfer(gate) else formula.connective.value
        nodes[gate.name] = Node(gate.name, kind, gate.placing.label, children, formula.low, formula.high)
    totals = {name: g.distribution for g in model.common_cause_groups.values() for name in g.members}
    for event in model.basic_events.values():
        value = find_value(model, totals.get(event.name, event.expression), mission_time)
        nodes[event.name] = Node(event.name, "basic", event.placing.label, probability=value)
    for house in model.house_events.values():
        nodes[house.name] = Node(house.name, "house", house.placing.label, value=house.value)
    return FaultGraph(nodes, find_tops(model))


def find_value(model: Model, expression: Expression | None, mission_time: float | None) -> float | None:
    """Return what an expression is worth at the mission time, None where that can't be known yet."""
    if expression is None:
        return None
    try:
        if mission_time is None and is_timed(model, expression):
            return None
        return float(Evaluator(model, mission_time).value("the event", expression))
    except (BadModel, KeyError):
        return None
