"""A netlist solved: one frozen diagram per module, found by trying orders under growing budgets."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.bdd import Bdd
from faulttree.engine.diagrams.build import build_diagram
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.modules import Module, split_modules
from faulttree.engine.logic.netlist import Netlist, Node
from faulttree.engine.logic.orders import order_by_weight, order_depth_first, order_force
from faulttree.engine.logic.simplify import simplify

FIRST_STAGE = 1 << 15  # nodes; each later stage allows eight times as many
STAGE_FACTOR = 8
WORK_PER_NODE = 2  # cache misses allowed per node of the stage
FEWEST_CANDIDATES = 2


@dataclass(frozen=True)
class Diagram:
    """The frozen diagram of one module.

    rows : int32[N, 3]; variable (position in `inputs`), low edge, high edge; children first, row 0
        the constant; the last row is the root, so the function is false when no input is true
    inputs : by position, the global variable i >= 0, or module j written as ~j
    """

    rows: NDArray[np.int32]
    inputs: tuple[int, ...]

    @property
    def root(self) -> int:
        """Row of the root; 0 when the module turned out to be constantly false."""
        return len(self.rows) - 1


@dataclass(frozen=True)
class Solution:
    """The function of a netlist: that of the last diagram, negated when `sign` is 1.

    variables : names of the global variables
    diagrams : modules, inputs before users; empty for a constant (false for sign 0)
    """

    variables: tuple[str, ...]
    diagrams: tuple[Diagram, ...]
    sign: int

    @property
    def nodes(self) -> int:
        """Rows of all diagrams together."""
        return sum(len(diagram.rows) for diagram in self.diagrams)


@dataclass
class _Candidate:
    """One variable order of a module and how many gates it got through before it ran out."""

    order: list[Node]
    built: int = 0


@dataclass
class _Plan:
    """One way to cut the netlist into modules, how far it is solved, and orders for the next module."""

    modules: list[Module]
    sign: int
    diagrams: list[Diagram] = field(default_factory=list)
    candidates: list[_Candidate] = field(default_factory=list)


def solve(netlist: Netlist, watch: Watch) -> Solution:
    """Build the diagrams of a netlist.

    Two plans (the netlist as it is, and rewritten) and several orders are tried, first with few
    nodes, then with eight times as many, and so on up to the budget. Raises LimitReached when none
    of them gets there, Cancelled when asked to stop.
    """
    watch.say("Simplifying the tree")
    makers: list[Callable[[], Netlist]] = [lambda: simplify(netlist), lambda: netlist]
    plans: list[_Plan] = []
    allowed = watch.budget.nodes or 2**30
    stage = min(FIRST_STAGE, allowed)
    while True:
        for place, make in enumerate(makers):
            if place == len(plans):  # most trees never need the second
                plans.append(_Plan(*split_modules(make())))
            plan = plans[place]
            if _advance(plan, stage, watch):
                return Solution(netlist.variables, tuple(plan.diagrams), plan.sign)
        if stage >= allowed:
            raise LimitReached("nodes", f"No variable order gave a diagram of {allowed:,} nodes or fewer.")
        stage = min(stage * STAGE_FACTOR, allowed)


def _advance(plan: _Plan, stage: int, watch: Watch) -> bool:
    """Solve the plan's modules in turn as far as the stage allows; True when all are solved."""
    while len(plan.diagrams) < len(plan.modules):
        watch.say("Building decision diagrams", len(plan.diagrams) / len(plan.modules))
        module = plan.modules[len(plan.diagrams)]
        diagram = _retry(plan, module, stage, watch) if plan.candidates else _try_all(plan, module, stage, watch)
        if diagram is None:
            return False
        plan.diagrams.append(diagram)
        plan.candidates = []
    return True


def _try_all(plan: _Plan, module: Module, stage: int, watch: Watch) -> Diagram | None:
    for order in _orders(module.netlist):
        plan.candidates.append(_Candidate(order))
        diagram = _try(plan.candidates[-1], module, stage, watch)
        if diagram is not None:
            return diagram
    return None


def _retry(plan: _Plan, module: Module, stage: int, watch: Watch) -> Diagram | None:
    """Try again with more nodes, those first that got furthest; the lesser half is dropped."""
    plan.candidates.sort(key=lambda candidate: -candidate.built)
    del plan.candidates[max(FEWEST_CANDIDATES, (len(plan.candidates) + 1) // 2) :]
    for candidate in plan.candidates:
        diagram = _try(candidate, module, stage, watch)
        if diagram is not None:
            return diagram
    return None


def _try(candidate: _Candidate, module: Module, stage: int, watch: Watch) -> Diagram | None:
    order = candidate.order
    bdd = Bdd(len(order), limit=stage, watch=watch, work_limit=WORK_PER_NODE * stage)
    try:
        edge = build_diagram(bdd, module.netlist, order)
    except LimitReached as reached:
        if reached.limit == "seconds":
            raise
        candidate.built = bdd.gates_built
        return None
    rows, _ = bdd.table.extract(edge)
    return Diagram(rows, tuple(module.inputs[node] for node in order))


def _orders(netlist: Netlist) -> Iterator[list[Node]]:
    """Candidate orders, the usually best first; made one by one since most modules need only the first."""
    larger_first = order_depth_first(netlist, larger_first=True)
    if len(larger_first) < 3:
        yield larger_first
        return
    makers: list[Callable[[], list[Node]]] = [
        lambda: order_force(netlist, larger_first),
        lambda: larger_first,
        lambda: order_by_weight(netlist),
        lambda: order_depth_first(netlist, larger_first=False),
        lambda: order_force(netlist, order_depth_first(netlist, larger_first=False)),
    ]
    for make in makers:
        yield make()
