"""The only translator between rows and the engine: sources to models, requests both ways, answers to JSON."""

from __future__ import annotations

import difflib
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings

from config.kit.errors import BadInput, Refused
from faulttree.assembly import BadAssembly as BadAssembly
from faulttree.assembly import assemble_model as assemble_model
from faulttree.assembly import hash_current as hash_current
from faulttree.assembly import hash_used as hash_used
from faulttree.assembly import read_current as read_current
from faulttree.assembly import read_model as read_model
from faulttree.drawing.graph import Child, FaultGraph, Node
from faulttree.engine.budget import Budget
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.parts import is_random, is_timed
from faulttree.engine.events.table import EventTable
from faulttree.engine.exchange.json_overrides import read_overrides
from faulttree.engine.exchange.json_overrides import write_overrides as write_overrides
from faulttree.engine.exchange.plain_json import write_json
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import BasicEvent, Combination, Connective, Formula, Gate, HouseEvent, Model, Reference
from faulttree.engine.overrides import Overrides as Overrides
from faulttree.engine.overrides import apply_overrides
from faulttree.engine.request import Request as Request
from faulttree.engine.request import TimeGrid as TimeGrid
from faulttree.engine.say_overrides import say_expression as say_expression
from faulttree.engine.say_overrides import say_overrides as say_overrides
from faulttree.engine.validate import find_tops
from faulttree.sources import UnreadableModel as UnreadableModel
from faulttree.sources import convert_plain_json as convert_plain_json
from faulttree.sources import is_plain_json as is_plain_json
from faulttree.sources import read_source as read_source


@dataclass(frozen=True, slots=True)
class ModelFacts:
    """What a revision row says about its model."""

    name: str
    label: str
    gates: int
    events: int
    tops: tuple[str, ...]
    uses_mission_time: bool
    is_uncertain: bool


def write_exchange_xml(revision: Any) -> bytes:
    """Return the model of a revision in exchange XML, written anew: in our order, with typed references.

    It stands for itself: transfers are replaced by what they stand for, shared values are those it was saved with.
    """
    try:
        return write_open_psa(read_model(revision, revision.data_set))
    except BadModel as refused:
        raise Refused(f"This revision can't be written in exchange XML: {refused}", code="not_writable") from None


def write_plain_json(revision: Any) -> bytes:
    """Return the model of a revision in plain JSON, as `write_exchange_xml` writes it."""
    return write_json(read_model(revision, revision.data_set))


def find_unknown(model: Model, names: Iterable[str]) -> list[str]:
    """Return a sentence for each name that is no gate or basic event, with what may have been meant."""
    expanded = _write_groups_out(model)
    known = [*expanded.gates, *expanded.basic_events]
    told = []
    for name in names:
        if name not in expanded.gates and name not in expanded.basic_events:
            near = difflib.get_close_matches(name, known, 3, 0.6)
            told.append(f"There is no gate or event {name}." + (f" Did you mean {' or '.join(near)}?" if near else ""))
    return told


class BadOverrides(BadInput):
    """Overrides that a model can't be computed with; `fields["overrides"]` names each that is at fault."""

    default_code = "bad_overrides"

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        told = [f"{problem.element}: {problem.message} {problem.mend}".strip() for problem in problems]
        super().__init__(" ".join(told), fields={"overrides": told})


def check_overrides(model: Model, overrides: Overrides) -> ModelFacts:
    """Return what can be said of the model with the overrides; raises BadOverrides naming all that can't be used."""
    return describe_model(read_changed(model, overrides))


def read_changed(model: Model, overrides: Overrides) -> Model:
    """Return the model with the overrides; raises BadOverrides naming all that can't be used."""
    try:
        return apply_overrides(model, overrides)
    except BadModel as refused:
        raise BadOverrides(refused.problems) from None


def parse_overrides(data: Any) -> Overrides:
    """Return the overrides that JSON says; raises BadOverrides with everything that is wrong with its shape."""
    try:
        return read_overrides(data)
    except BadModel as refused:
        raise BadOverrides(refused.problems) from None


def describe_model(model: Model) -> ModelFacts:
    """Return what lists and pages say about a model."""
    first = model.containers[0] if model.containers else None
    expressions = [event.expression for event in model.basic_events.values()]
    expressions += [group.distribution for group in model.common_cause_groups.values()]
    return ModelFacts(
        name=first.path[0] if first else model.name,
        label=(first.label if first else "") or model.label,
        gates=len(model.gates),
        events=len(model.basic_events),
        tops=find_tops(model),
        uses_mission_time=any(is_timed(model, expression) for expression in expressions),
        is_uncertain=any(is_random(model, expression) for expression in expressions),
    )


def hash_bytes(data: bytes) -> str:
    """Return the SHA-256 of some bytes, in hex."""
    return hashlib.sha256(data).hexdigest()


def write_request(request: Request, *, nodes: int, seconds: float) -> dict[str, Any]:
    """Return a request and its budget as the JSON that a run row keeps, less what came later and is as usual."""
    grid = request.time_grid
    return {
        **({"overrides": write_overrides(request.overrides)} if request.overrides else {}),
        "top": request.top,
        "mission_time": request.mission_time,
        "list_count": request.list_count,
        "max_order": request.max_order,
        "min_probability": request.min_probability,
        "time_grid": {"start": grid.start, "stop": grid.stop, "step": grid.step} if grid else None,
        "samples": request.samples,
        "seed": request.seed,
        "sampling": request.sampling,
        "evidence": dict(request.evidence),
        "prime_implicants": request.prime_implicants,
        **({} if request.unions else {"unions": False}),
        "budget": {"nodes": nodes, "seconds": seconds},
    }


def read_request(data: Mapping[str, Any]) -> tuple[Request, Budget]:
    """Return the request and the budget that a run row keeps."""
    plain = {name: value for name, value in data.items() if name not in ("budget", "time_grid", "overrides")}
    grid = data.get("time_grid")
    budget = data["budget"]
    overrides = read_overrides(data.get("overrides", {}))
    request = Request(**plain, time_grid=TimeGrid(**grid) if grid else None, overrides=overrides)
    return request, Budget(nodes=budget["nodes"], seconds=budget["seconds"], memory_mib=settings.RUN_MEMORY_MIB)


def hash_request(revision_sha256: str, revision_id: int, data: Mapping[str, Any], used: str = "") -> str:
    """Return what equal requests of one revision have in common.

    used : `hash_used` of the revision, so that a change of the library asks anew where it changes this tree
    """
    text = json.dumps(data, sort_keys=True, separators=(",", ":"))
    return hash_bytes("\n".join(filter(None, (str(revision_id), revision_sha256, text, used))).encode())


def write_headline(result: Mapping[str, Any]) -> dict[str, Any]:
    """Return the few figures of an answer that lists show."""
    cut_sets = result.get("cut_sets") or {}
    kept = {name: result.get(name) for name in ("method", "probability", "lower", "upper")}
    return {**kept, "cut_sets": cut_sets.get("count"), "all_cut_sets": cut_sets.get("exact", True)}


def read_graph(model: Model, mission_time: float | None) -> FaultGraph:
    """Return the tree as it is drawn: common-cause groups written out, a gate for every inner formula.

    Probabilities are those at the mission time; an event whose value can't be had without one shows none.
    """
    expanded = _write_groups_out(model)
    writer = _GraphWriter(_probabilities(expanded, mission_time))
    for gate in expanded.gates.values():
        writer.add_gate(gate)
    for event in expanded.basic_events.values():
        writer.add_event(event)
    for house in expanded.house_events.values():
        writer.add_house(house)
    return FaultGraph(writer.nodes, find_tops(expanded))


def _write_groups_out(model: Model) -> Model:
    """Return the model with its common-cause groups written out; as it is, where a run would refuse that."""
    try:
        return expand_common_cause(model)
    except BadModel:
        return model


def _probabilities(model: Model, mission_time: float | None) -> dict[str, float]:
    values: dict[str, float] = {}
    for name, event in model.basic_events.items():
        if event.expression is None or (mission_time is None and is_timed(model, event.expression)):
            continue
        try:
            values[name] = float(EventTable(model, (name,)).probabilities(mission_time)[0])
        except BadModel:  # the run says what is wrong with it; the drawing shows no number
            continue
    return values


class _GraphWriter:
    """Turns elements of a model into nodes; an inner formula becomes a gate named after its outer one."""

    def __init__(self, probabilities: Mapping[str, float]) -> None:
        self.nodes: dict[str, Node] = {}
        self._probabilities = probabilities

    def add_event(self, event: BasicEvent) -> None:
        self.nodes[event.name] = Node(
            event.name, "basic", event.placing.label, probability=self._probabilities.get(event.name)
        )

    def add_house(self, house: HouseEvent) -> None:
        self.nodes[house.name] = Node(house.name, "house", house.placing.label, value=house.value)

    def add_gate(self, gate: Gate) -> None:
        """Add a gate and those of its inner formulas, outermost first."""
        waiting: list[tuple[str, str, Formula]] = [(gate.name, gate.placing.label, gate.formula)]
        inner = 0
        while waiting:
            name, label, formula = waiting.pop()
            if not isinstance(formula, Combination):
                formula = Combination(Connective.AND, (formula,))
                kind = "pass"
            else:
                kind = formula.connective.value
            children = []
            for argument in formula.arguments:
                bare, negated = _without_not(argument) if kind != "not" else (argument, False)
                if isinstance(bare, Reference):
                    children.append(Child(bare.name, negated))
                    continue
                inner += 1
                below = f"{gate.name}#{inner}"
                children.append(Child(below, negated))
                if isinstance(bare, Combination):
                    waiting.append((below, "", bare))
                else:
                    self.nodes[below] = Node(below, "constant", "always" if bare.value else "never", value=bare.value)
            self.nodes[name] = Node(name, kind, label, tuple(children), formula.low, formula.high)


def _without_not(formula: Formula) -> tuple[Formula, bool]:
    negated = False
    while isinstance(formula, Combination) and formula.connective is Connective.NOT:
        formula, negated = formula.arguments[0], not negated
    return formula, negated
