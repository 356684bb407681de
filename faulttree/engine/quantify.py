"""The main job: a model and a request in, the whole answer out."""

from __future__ import annotations

import resource
from collections.abc import Callable
from dataclasses import replace

from faulttree.engine import parts
from faulttree.engine.analysis.probability import evaluate
from faulttree.engine.budget import Budget, Progress, Watch
from faulttree.engine.diagrams.monotone import is_coherent
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.diagrams.zdd import minimal_cut_sets
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.compile import order_gates
from faulttree.engine.logic.polarity import is_plainly_monotone
from faulttree.engine.model import Model
from faulttree.engine.request import Request
from faulttree.engine.results import CutSet, CutSets, Quantification
from faulttree.engine.run import Run, prepare_run
from faulttree.engine.truncation.bracket import bracket
from faulttree.engine.truncation.refinement import Wanted

EXACT_SHARE = 0.5  # of the seconds; the rest is kept for a bracket


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
    None. Where the probability is exact but a further part goes past the budget, that part is left
    out and a note says so. Raises BadModel for a request or a number that can't be used, Cancelled
    when asked to stop.
    """
    watch = Watch(budget or Budget())
    if progress is not None:
        watch.progress = progress
    if cancelled is not None:
        watch.cancelled = cancelled
    run = prepare_run(model, request or Request(), watch)
    seconds = watch.budget.seconds
    exact_watch = watch
    if seconds is not None:
        exact_watch = replace(watch, budget=replace(watch.budget, seconds=seconds * EXACT_SHARE))
    try:
        with run.step("diagrams"):
            solution = solve(run.netlist, exact_watch)
            coherent = is_plainly_monotone(run.netlist) or is_coherent(solution, exact_watch)
    except LimitReached as reached:
        return _bracket(run, str(reached))
    return _quantify_exactly(run, solution, coherent)


def _quantify_exactly(run: Run, solution: Solution, coherent: bool) -> Quantification:
    request = run.request
    with run.step("probability"):
        valuation = evaluate(solution, run.p)
    result = _describe(run, coherent, len(solution.diagrams))
    result = replace(result, method="exact", probability=valuation.holds)
    families = None
    known = bool(solution.sign)  # then the empty set is the only minimal cut set
    if not known:
        families = run.attempt("cut_sets", "Minimal cut sets are", lambda: minimal_cut_sets(solution, run.watch))
        known = families is not None
    if known:
        cut_sets = run.attempt("list", "The list of cut sets is", lambda: parts.describe_cut_sets(run, families))
        sums = run.attempt("sums", "Sums over cut sets are", lambda: parts.sum_cut_sets(run, families))
        rare_event, upper = sums or (None, None)
        result = replace(result, cut_sets=cut_sets, rare_event=rare_event, min_cut_upper_bound=upper)
    weighed = run.attempt("importance", "Importance is", lambda: parts.weigh_events(run, solution, valuation, families))
    parts.note_figures(run, coherent, valuation.holds, result.rare_event, result.min_cut_upper_bound)
    result = replace(result, importance=weighed or {})
    if request.prime_implicants:
        primes = run.attempt("prime_implicants", "Prime implicants are", lambda: parts.list_prime_implicants(run))
        result = replace(result, prime_implicants=primes)
    grid = request.time_grid
    if grid is not None:
        course = run.attempt("time", "The curve over time is", lambda: parts.follow(run, solution, coherent, grid))
        result = replace(result, time=course)
    if request.samples:
        sampled = run.attempt("uncertainty", "Uncertainty is", lambda: parts.sample(run, solution))
        result = replace(result, uncertainty=sampled)
    if request.evidence:
        diagnosis = run.attempt("diagnosis", "Diagnosis is", lambda: parts.diagnose(run))
        result = replace(result, diagnosis=diagnosis)
    return _finish(run, result)


def _describe(run: Run, coherent: bool, modules: int) -> Quantification:
    """The frame of an answer, without figures."""
    gates = order_gates(run.model, [run.top])
    return Quantification(
        overrides=run.request.overrides,
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


def _finish(run: Run, result: Quantification) -> Quantification:
    run.seconds["total"] = run.watch.elapsed()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    seconds = {name: round(value, 6) for name, value in run.seconds.items()}
    return replace(result, notes=tuple(run.notes), seconds=seconds, peak_memory_mib=round(peak, 1))


def _bracket(run: Run, reason: str) -> Quantification:
    request = run.request
    with run.step("bracket"):
        wanted = Wanted(request.list_count, request.max_order, request.min_probability)
        found = bracket(run.netlist, run.p, run.watch, wanted)
    run.notes.insert(0, f"This is a bracket, not an exact probability. {reason}")
    run.notes.append(found.note)
    run.notes.append("Importance needs the exact solution and is left out.")
    if request.time_grid or request.samples or request.evidence or request.prime_implicants:
        run.notes.append(
            "Curves over time, uncertainty, diagnosis and prime implicants need the exact solution and are left out."
        )
    monotone = is_plainly_monotone(run.netlist)
    if not monotone:
        run.notes.append(
            "The tree is called not coherent for the negations in its drawing; only the exact solution could tell."
        )
    if len(found.cut_sets) < found.kept_count:
        run.notes.append(f"{len(found.cut_sets):,} of the {found.kept_count:,} kept cut sets are listed.")
    names = run.netlist.variables
    listed = tuple(CutSet(tuple(sorted(names[v] for v in members)), q) for members, q in found.cut_sets)
    result = _describe(run, monotone, 0)
    cut_sets = CutSets(found.kept_count, found.by_order, listed, exact=False)
    return _finish(run, replace(result, lower=found.lower, upper=found.upper, cut_sets=cut_sets))
