"""The main job: a model and a request in, the whole answer out."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

import numpy as np

from faulttree.engine.analysis.cut_sets import (
    count_by_order,
    likeliest_sets,
    min_cut_upper_bound,
    sum_of_products,
)
from faulttree.engine.analysis.cut_unions import cut_union_probabilities
from faulttree.engine.analysis.importance import measure_importance
from faulttree.engine.analysis.prime_implicants import find_prime_implicants
from faulttree.engine.analysis.probability import Valuation, Vector, condition, evaluate
from faulttree.engine.analysis.time_course import follow_time
from faulttree.engine.analysis.uncertainty import sample_top_event
from faulttree.engine.budget import Budget, Progress, Watch
from faulttree.engine.diagrams.monotone import is_coherent
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.diagrams.zdd import Family, minimal_cut_sets
from faulttree.engine.errors import BadModel, LimitReached, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model, order_gates
from faulttree.engine.logic.netlist import Netlist
from faulttree.engine.logic.polarity import is_plainly_monotone
from faulttree.engine.model import Model
from faulttree.engine.request import Request
from faulttree.engine.results import CutSet, CutSets, Diagnosis, Importance, Quantification
from faulttree.engine.truncation.bracket import bracket
from faulttree.engine.validate import choose_top

EXACT_SHARE = 0.5  # of the seconds; the rest is kept for a bracket


@dataclass
class _Run:
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


def quantify(
    model: Model,
    request: Request | None = None,
    *,
    budget: Budget | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Quantification:
    """Quantify the top event of a model that has been read and checked.

    Exact within the budget; past it a certified bracket, with `method` "bracket" and `probability`
    None. Raises BadModel for a request or a number that can't be used, Cancelled when asked to stop.
    """
    watch = Watch(budget or Budget())
    if progress is not None:
        watch.progress = progress
    if cancelled is not None:
        watch.cancelled = cancelled
    run = _prepare(model, request or Request(), watch)
    seconds = watch.budget.seconds
    exact_watch = watch
    if seconds is not None:
        exact_watch = replace(watch, budget=replace(watch.budget, seconds=seconds * EXACT_SHARE))
    try:
        with run.step("diagrams"):
            solution = solve(run.netlist, exact_watch)
        with run.step("cut_sets"):
            families = None if solution.sign else minimal_cut_sets(solution, exact_watch)
    except LimitReached as reached:
        return _bracket(run, str(reached))
    try:
        return _quantify_exactly(run, solution, families)
    except LimitReached as reached:
        return _bracket(run, str(reached))


def _prepare(model: Model, request: Request, watch: Watch) -> _Run:
    start = time.perf_counter()
    _check_request(request)
    top = choose_top(model, request.top)
    expanded = expand_common_cause(model)
    for name in request.evidence:
        if name not in expanded.gates and name not in expanded.basic_events:
            raise BadModel(Problem(f"There is no gate or basic event {name}.", "Correct the name.", "evidence"))
    watch.say("Reading the tree")
    netlist = compile_model(expanded, top)
    table = EventTable(expanded, netlist.variables)
    p = table.probabilities(request.mission_time)
    run = _Run(expanded, request, watch, top, netlist, table, p)
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


def _quantify_exactly(run: _Run, solution: Solution, families: list[Family] | None) -> Quantification:
    watch = run.watch
    with run.step("coherence"):
        coherent = is_plainly_monotone(run.netlist) or is_coherent(solution, watch)
    with run.step("probability"):
        valuation = evaluate(solution, run.p)
    result = _describe(run, coherent, len(solution.diagrams))
    result = replace(result, method="exact", probability=valuation.holds)
    with run.step("cut_set_figures"):
        cut_sets, rare_event, upper = _cut_set_figures(run, families)
    with run.step("importance"):
        importance = _importance(run, solution, valuation, families, rare_event)
    _note_figures(run, coherent, valuation.holds, rare_event, upper)
    result = replace(result, cut_sets=cut_sets, rare_event=rare_event, min_cut_upper_bound=upper, importance=importance)
    result = _add_extras(run, result, solution, coherent)
    return _finish(run, result)


def _describe(run: _Run, coherent: bool, modules: int) -> Quantification:
    """The frame of an answer, without figures."""
    gates = order_gates(run.model, [run.top])
    return Quantification(
        tree=run.model.gates[run.top].placing.path[0] if run.model.gates[run.top].placing.path else run.model.name,
        top=run.top,
        mission_time=run.request.mission_time,
        coherent=coherent,
        events=len(run.netlist.variables),
        gates=len(gates),
        modules=modules,
        method="bracket",
        probability=None,
        lower=None,
        upper=None,
        rare_event=None,
        min_cut_upper_bound=None,
        cut_sets=None,
    )


def _finish(run: _Run, result: Quantification) -> Quantification:
    run.seconds["total"] = run.watch.elapsed()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    seconds = {name: round(value, 6) for name, value in run.seconds.items()}
    return replace(result, notes=tuple(run.notes), seconds=seconds, peak_memory_mib=round(peak, 1))


def _cut_set_figures(run: _Run, families: list[Family] | None) -> tuple[CutSets, float | None, float | None]:
    request = run.request
    if families is None:  # true when nothing occurred: the empty set is the only minimal one
        return CutSets(1, {0: 1}, (CutSet((), 1.0),)), 1.0, 1.0
    if not families:
        return CutSets(0, {}, ()), 0.0, 0.0
    by_order = count_by_order(families)
    found, complete = likeliest_sets(
        families,
        run.p,
        request.list_count,
        max_order=request.max_order,
        min_probability=request.min_probability,
    )
    if not complete:
        run.notes.append("The search for the likeliest cut sets was stopped; the list may lack some.")
    listed = tuple(CutSet(tuple(sorted(run.netlist.variables[v] for v in members)), q) for members, q in found)
    count = sum(by_order.values())
    if len(listed) < count:
        run.notes.append(f"{len(listed):,} of {count:,} minimal cut sets are listed, the likeliest first.")
    rare_event, _ = sum_of_products(families, run.p)
    return CutSets(count, by_order, listed), rare_event, min_cut_upper_bound(families, run.p)


def _importance(
    run: _Run, solution: Solution, valuation: Valuation, families: list[Family] | None, rare_event: float | None
) -> dict[str, Importance]:
    given_true, given_false = condition(solution, run.p, valuation)
    unions: list[float | None] = [None] * len(run.p)
    by_event = None
    if families:
        unions = cut_union_probabilities(families, run.p, valuation, run.watch)
        _, by_event = sum_of_products(families, run.p)
    if families and any(union is None for union in unions):
        run.notes.append(
            "The union form of Fussell-Vesely is left out for some events: its diagrams would be too large."
        )
    measures = measure_importance(run.p, valuation.holds, given_true, given_false, unions, rare_event, by_event)
    return dict(zip(run.netlist.variables, measures, strict=True))


def _note_figures(run: _Run, coherent: bool, top: float, rare_event: float | None, upper: float | None) -> None:
    if rare_event is not None and rare_event > 1.0:
        run.notes.append(f"The rare-event figure {rare_event:.6g} exceeds 1 and is not a probability.")
    elif rare_event is not None and rare_event > top * 1.01:
        run.notes.append("The rare-event figure is conservative: more than 1 % above the exact probability.")
    if upper is None:
        run.notes.append("The min-cut upper bound is left out: a cut set is too near to certain.")
    if not coherent:
        run.notes.append(
            "The tree is not coherent: some event's occurrence can prevent the top event. Its minimal cut sets are "
            "minimal sets of occurrences that are enough when nothing else occurs (Rauzy 2001); rare-event and "
            "min-cut upper-bound figures ignore what must not occur. The exact probability is unaffected."
        )


def _add_extras(run: _Run, result: Quantification, solution: Solution, coherent: bool) -> Quantification:
    request, watch = run.request, run.watch
    if request.prime_implicants:
        with run.step("prime_implicants"):
            result = replace(result, prime_implicants=_prime_implicants(run))
    if request.time_grid is not None:
        with run.step("time"):
            course, defined = follow_time(solution, run.table, request.time_grid, coherent, watch)
        result = replace(result, time=course)
        run.notes.extend(_note_time(run.table, coherent, defined))
    if request.samples:
        with run.step("uncertainty"):
            uncertainty, clipped = sample_top_event(
                solution, run.table, request.mission_time, request.samples, request.seed, request.sampling, watch
            )
        result = replace(result, uncertainty=uncertainty)
        if not run.table.is_uncertain:
            run.notes.append("No parameter of this tree is uncertain; every sample is the same.")
        if clipped:
            run.notes.append(
                f"{clipped:,} sampled probabilities or rates lay outside their range and were cut to the bound."
            )
    if request.evidence:
        with run.step("diagnosis"):
            result = replace(result, diagnosis=_diagnose(run))
    return result


def _note_time(table: EventTable, coherent: bool, defined: bool) -> list[str]:
    """What must be known about a curve over time."""
    notes = []
    if not defined and not coherent:
        notes.append("The top-event frequency is not given for this tree: it is not coherent.")
    elif not defined:
        names = _shorten(table.events_without_intensity)
        notes.append(f"The top-event frequency is not given: no failure intensity follows from the model of {names}.")
    if defined and table.constant_events:
        count = len(table.constant_events)
        notes.append(
            f"{count:,} of {len(table.names):,} events have a probability that does not change with time; they count "
            f"as states, not as failures, and start no occurrence of the top event: {_shorten(table.constant_events)}."
        )
    if table.events_with_corners:
        names = _shorten(table.events_with_corners)
        notes.append(f"Averages over time are approximate: the probability may jump or bend between times for {names}.")
    return notes


def _shorten(names: tuple[str, ...]) -> str:
    """The first few names."""
    return ", ".join(names[:5]) + (f" and {len(names) - 5:,} more" if len(names) > 5 else "")


def _prime_implicants(run: _Run) -> CutSets | None:
    try:
        found = find_prime_implicants(run.netlist, run.request.prime_implicants, run.watch)
    except LimitReached as reached:
        if reached.limit == "seconds":
            raise
        run.notes.append(f"Prime implicants are not listed. {reached}")
        return None
    listed: list[CutSet] = []
    by_order: dict[int, int] = {}
    for term in found:
        names = sorted(("not " if literal & 1 else "") + run.netlist.variables[literal >> 1] for literal in term)
        factors = [1.0 - run.p[literal >> 1] if literal & 1 else run.p[literal >> 1] for literal in term]
        listed.append(CutSet(tuple(names), float(np.prod(factors))))
        by_order[len(term)] = by_order.get(len(term), 0) + 1
    listed.sort(key=lambda cut: (-cut.probability, cut.events))
    return CutSets(len(listed), dict(sorted(by_order.items())), tuple(listed))


def _diagnose(run: _Run) -> Diagnosis:
    """Posterior of every event given the top event and the evidence: P(event, top, evidence) / P(top, evidence)."""
    netlist = compile_model(run.model, run.top, run.request.evidence)
    table = EventTable(run.model, netlist.variables)
    p = table.probabilities(run.request.mission_time)
    solution = solve(netlist, run.watch)
    valuation = evaluate(solution, p)
    if valuation.holds <= 0.0:
        message = "The evidence can't be true together with the top event."
        raise BadModel(Problem(message, "Take a piece of evidence back, or correct the tree.", "evidence"))
    given_true, _ = condition(solution, p, valuation)
    posterior = np.minimum(p * given_true / valuation.holds, 1.0)
    return Diagnosis(valuation.holds, dict(zip(netlist.variables, posterior.tolist(), strict=True)))


def _bracket(run: _Run, reason: str) -> Quantification:
    with run.step("bracket"):
        found = bracket(run.netlist, run.p, run.watch, list_count=run.request.list_count)
    run.notes.insert(0, f"This is a bracket, not an exact probability. {reason}")
    run.notes.append(found.note)
    if run.request.time_grid or run.request.samples or run.request.evidence:
        run.notes.append("Curves over time, uncertainty and diagnosis need the exact solution and are left out.")
    names = run.netlist.variables
    listed = tuple(CutSet(tuple(sorted(names[v] for v in members)), q) for members, q in found.cut_sets)
    result = _describe(run, is_plainly_monotone(run.netlist), 0)
    cut_sets = CutSets(found.kept_count, found.by_order, listed, exact=False)
    return _finish(run, replace(result, lower=found.lower, upper=found.upper, cut_sets=cut_sets))
