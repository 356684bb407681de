"""The parts of an exact answer, each from a solution and its minimal cut sets."""

from __future__ import annotations

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
from faulttree.engine.analysis.probability import Valuation, condition, evaluate
from faulttree.engine.analysis.time_course import follow_time
from faulttree.engine.analysis.uncertainty import sample_top_event
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.diagrams.zdd import Family
from faulttree.engine.errors import BadModel, LimitReached, Problem
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.request import TimeGrid
from faulttree.engine.results import CutSet, CutSets, Diagnosis, Importance, TimeCourse, Uncertainty
from faulttree.engine.run import Run


def describe_cut_sets(run: Run, families: list[Family] | None) -> CutSets:
    """Count, orders and list of the minimal cut sets; `families` is None when the empty set is the only one."""
    request = run.request
    if families is None:  # true when nothing occurred: the empty set is the only minimal one
        return CutSets(1, {0: 1}, (CutSet((), 1.0),))
    if not families:
        return CutSets(0, {}, ())
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
    return CutSets(count, by_order, listed)


def sum_cut_sets(run: Run, families: list[Family] | None) -> tuple[float, float | None]:
    """Rare-event figure and min-cut upper bound, the latter None where it can't be summed."""
    if families is None:
        return 1.0, 1.0
    if not families:
        return 0.0, 0.0
    return sum_of_products(families, run.p)[0], min_cut_upper_bound(families, run.p)


def weigh_events(
    run: Run, solution: Solution, valuation: Valuation, families: list[Family] | None
) -> dict[str, Importance]:
    """Importance measures of every event; those that need cut sets are None without them."""
    given_true, given_false = condition(solution, run.p, valuation)
    unions: list[float | None] = [None] * len(run.p)
    rare_event = by_event = None
    if families:
        rare_event, by_event = sum_of_products(families, run.p)
        if run.request.unions:
            unions = _unions(run, families, valuation)
    if families and not run.request.unions:
        run.notes.append("The union form of Fussell-Vesely was not asked for.")
    elif families and any(union is None for union in unions):
        run.notes.append(
            "The union form of Fussell-Vesely is left out for some events: its diagrams would be too large."
        )
    measures = measure_importance(run.p, valuation.holds, given_true, given_false, unions, rare_event, by_event)
    return dict(zip(run.netlist.variables, measures, strict=True))


def _unions(run: Run, families: list[Family], valuation: Valuation) -> list[float | None]:
    try:
        return cut_union_probabilities(families, run.p, valuation, run.watch)
    except LimitReached:
        return [None] * len(run.p)


def note_figures(run: Run, coherent: bool, top: float, rare_event: float | None, upper: float | None) -> None:
    """Say where an approximate figure is no probability or conservative, and what a non-coherent tree changes."""
    if rare_event is not None and rare_event > 1.0:
        run.notes.append(f"The rare-event figure {rare_event:.6g} exceeds 1 and is not a probability.")
    elif rare_event is not None and rare_event > top * 1.01:
        run.notes.append("The rare-event figure is conservative: more than 1 % above the exact probability.")
    if rare_event is not None and upper is None:
        run.notes.append("The min-cut upper bound is left out: a cut set is too near to certain.")
    if not coherent:
        run.notes.append(
            "The tree is not coherent: some event's occurrence can prevent the top event. Its minimal cut sets are "
            "minimal sets of occurrences that are enough when nothing else occurs (Rauzy 2001); rare-event and "
            "min-cut upper-bound figures ignore what must not occur. The exact probability is unaffected."
        )


def follow(run: Run, solution: Solution, coherent: bool, grid: TimeGrid) -> TimeCourse:
    """The top event over time, with what must be known about the curve."""
    course, defined = follow_time(solution, run.table, grid, coherent, run.watch)
    run.notes.extend(_note_time(run.table, coherent, defined))
    return course


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


def sample(run: Run, solution: Solution) -> Uncertainty:
    """The distribution of the top-event probability under uncertain parameters."""
    request = run.request
    uncertainty, clipped = sample_top_event(
        solution, run.table, request.mission_time, request.samples, request.seed, request.sampling, run.watch
    )
    note_uncertainty(run.notes, run.table.is_uncertain, uncertainty, clipped)
    return uncertainty


def note_uncertainty(notes: list[str], is_uncertain: bool, uncertainty: Uncertainty, clipped: int) -> None:
    """Say what must be known about a distribution."""
    if not is_uncertain:
        notes.append("No parameter of this tree is uncertain; every sample is the same.")
    if uncertainty.drivers and uncertainty.driver_samples < uncertainty.samples:
        notes.append(
            f"What drives the uncertainty is measured on the first {uncertainty.driver_samples:,} of "
            f"{uncertainty.samples:,} samples, to keep within memory; its sampling errors say what that costs."
        )
    if clipped:
        notes.append(f"{clipped:,} sampled probabilities or rates lay outside their range and were cut to the bound.")


def list_prime_implicants(run: Run) -> CutSets:
    """All prime implicants; raises LimitReached when there are more than asked for."""
    found = find_prime_implicants(run.netlist, run.request.prime_implicants, run.watch)
    listed: list[CutSet] = []
    by_order: dict[int, int] = {}
    for term in found:
        names = sorted(("not " if literal & 1 else "") + run.netlist.variables[literal >> 1] for literal in term)
        factors = [1.0 - run.p[literal >> 1] if literal & 1 else run.p[literal >> 1] for literal in term]
        listed.append(CutSet(tuple(names), float(np.prod(factors))))
        by_order[len(term)] = by_order.get(len(term), 0) + 1
    listed.sort(key=lambda cut: (-cut.probability, cut.events))
    return CutSets(len(listed), dict(sorted(by_order.items())), tuple(listed))


def diagnose(run: Run) -> Diagnosis:
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
