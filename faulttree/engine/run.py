"""One run on its way: what was asked, what the tree has become, what was found worth saying."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from faulttree.engine.analysis.probability import Vector
from faulttree.engine.budget import Watch
from faulttree.engine.errors import BadModel, LimitReached, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.netlist import Netlist
from faulttree.engine.model import Model
from faulttree.engine.overrides import apply_overrides, members_of_groups
from faulttree.engine.request import Request
from faulttree.engine.say_overrides import say_overrides
from faulttree.engine.validate import choose_top

T = TypeVar("T")


@dataclass
class Run:
    """What one run has found so far."""

    model: Model
    request: Request
    watch: Watch
    top: str
    netlist: Netlist
    table: EventTable
    p: Vector
    notes: list[str] = field(default_factory=list)
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        """Time a step, also one that is stopped."""
        start = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start

    def attempt(self, name: str, what: str, compute: Callable[[], T]) -> T | None:
        """Compute a part of the answer; None, with a note that it is left out, when it goes past a limit."""
        try:
            with self.step(name):
                return compute()
        except LimitReached as reached:
            self.notes.append(f"{what} left out. {reached}")
            return None


def prepare_run(model: Model, request: Request, watch: Watch) -> Run:
    """Check the request, compile the tree and evaluate its events; raises BadModel."""
    start = time.perf_counter()
    if request.overrides.mission_time is not None:
        request = replace(request, mission_time=request.overrides.mission_time)
    _check_request(request)
    top = choose_top(model, request.top)
    expanded = expand_common_cause(apply_overrides(model, request.overrides))
    _check_evidence(expanded, request)
    watch.say("Reading the tree")
    netlist = compile_model(expanded, top)
    table = EventTable(expanded, netlist.variables)
    p = table.probabilities(request.mission_time)
    run = Run(expanded, request, watch, top, netlist, table, p)
    if request.overrides:
        run.notes.append(f"Computed with overrides of the tree: {'; '.join(say_overrides(request.overrides))}.")
        run.notes.extend(_note_members(model, request))
    if model.common_cause_groups:
        names = ", ".join(model.common_cause_groups)
        run.notes.append(f"Common-cause groups are written out as derived events: {names}.")
    run.notes.append("Basic events are independent of each other except through the common-cause groups of the model.")
    if table.uses_mission_time:
        run.notes.append(f"Probabilities are taken at a mission time of {request.mission_time:g} h.")
    if table.is_uncertain:
        run.notes.append("Outside the uncertainty run, uncertain parameters stand at their mean.")
    run.seconds["preparation"] = time.perf_counter() - start
    return run


def _check_evidence(model: Model, request: Request) -> None:
    for name in request.evidence:
        if isinstance(request.overrides.events.get(name), bool):
            message = f"{name} is set by the overrides already."
            raise BadModel(Problem(message, "Take it out of the evidence or out of the overrides.", "evidence"))
        if name not in model.gates and name not in model.basic_events:
            raise BadModel(Problem(f"There is no gate or basic event {name}.", "Correct the name.", "evidence"))


def _note_members(model: Model, request: Request) -> list[str]:
    """What setting a member of a common-cause group leaves as it was."""
    groups = members_of_groups(model)
    set_ones = [name for name in request.overrides.events if name in groups]
    return [
        f"{name} is set alone: the other members of the common-cause group {groups[name]} keep their probabilities, "
        "what they share included."
        for name in set_ones
    ]


def _check_request(request: Request) -> None:
    problems = []
    if request.mission_time is not None and not (0.0 <= request.mission_time < np.inf):
        problems.append(Problem("The mission time must be 0 or more.", "Give hours.", "mission time"))
    if request.list_count < 0:
        problems.append(Problem("The number of listed cut sets is negative.", "Give 0 or more.", "list"))
    if request.max_order is not None and request.max_order < 1:
        problems.append(Problem("The largest order is below 1.", "Give 1 or more.", "max order"))
    if not 0.0 <= request.min_probability <= 1.0:
        problems.append(Problem("The least probability is outside [0, 1].", "Give 0 to 1.", "min probability"))
    if request.samples < 0 or request.samples == 1 or request.samples > 10_000_000:
        problems.append(Problem("The number of samples can't be used.", "Give 2 to 10,000,000.", "samples"))
    if request.seed < 0:
        problems.append(Problem("The seed is negative.", "Give 0 or more.", "seed"))
    if problems:
        raise BadModel(*problems)
