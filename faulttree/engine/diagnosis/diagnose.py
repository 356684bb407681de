"""What is to be believed of each cause, given that the top event happened and what was found since."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from faulttree.engine.analysis.cut_sets import count_by_order, likeliest_sets
from faulttree.engine.analysis.probability import Vector, evaluate
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagnosis.conditioned import Conditioned, build
from faulttree.engine.diagnosis.conflict import Conflict, find_conflict
from faulttree.engine.diagnosis.pieces import Piece
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.diagrams.zdd import minimal_cut_sets
from faulttree.engine.errors import LimitReached
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model, order_gates
from faulttree.engine.model import Model
from faulttree.engine.validate import choose_top

MOST_GATES = 300
OCCURRED = float("inf")


@dataclass(frozen=True, slots=True)
class Moved:
    """A basic event or gate: its probability before anything is known, given the top event, and given all evidence."""

    name: str
    prior: float
    given_top: float
    posterior: float | None


@dataclass(frozen=True, slots=True)
class Explanation:
    """A minimal cut set, and the probabilities that all its events occurred; several can be true at once."""

    events: tuple[str, ...]
    prior: float
    given_top: float
    posterior: float | None


@dataclass(frozen=True, slots=True)
class Step:
    """The posterior of every basic event with this piece and all before it; key "" is the top event alone."""

    key: str
    posterior: dict[str, float]


@dataclass(frozen=True)
class Posterior:
    """The whole answer; every probability is exact. With a conflict there is no posterior, and `steps` end before it.

    explanations : the leading minimal cut sets, likeliest first
    explanations_sure : so many from the first are proved to be the leading ones
    cut_sets : how many there are altogether; None where they weren't found
    gates : those below the top event; empty, with a note, where they are too many
    """

    top_probability: float
    events: tuple[Moved, ...]
    gates: tuple[Moved, ...] = ()
    explanations: tuple[Explanation, ...] = ()
    explanations_sure: int = 0
    cut_sets: int | None = None
    steps: tuple[Step, ...] = ()
    conflict: Conflict | None = None
    notes: tuple[str, ...] = ()

    def event(self, name: str) -> Moved | None:
        """Return the event or gate of this name."""
        return next((each for each in (*self.events, *self.gates) if each.name == name), None)


@dataclass
class _Work:
    """One diagnosis on its way."""

    model: Model
    top: str
    mission_time: float | None
    watch: Watch
    tree: Conditioned
    notes: list[str] = field(default_factory=list)


def diagnose(
    model: Model,
    top: str,
    pieces: Sequence[Piece],
    *,
    mission_time: float | None = None,
    budget: Budget | None = None,
    explanations: int = 20,
    cancelled: Callable[[], bool] | None = None,
) -> Posterior:
    """Return the posterior of every event, gate and leading cut set: P(x, top, evidence) / P(top, evidence).

    mission_time : hours. Pieces are independent of each other given the state of their targets. Raises BadModel for a
    target or a number that can't be used, or a top event that can't occur by the numbers; LimitReached past the budget;
    Cancelled when asked to stop.
    """
    watch = Watch(budget or Budget())
    if cancelled is not None:
        watch.cancelled = cancelled
    top = choose_top(model, top)
    expanded = expand_common_cause(model)
    work = _Work(expanded, top, mission_time, watch, build(expanded, top, pieces, mission_time, watch))
    conflict = find_conflict(work.tree, watch)
    if conflict is not None and conflict.top_alone:
        priors = tuple(Moved(name, work.tree.priors[name], 0.0, None) for name in work.tree.names)
        return Posterior(0.0, priors, conflict=conflict)
    alone = work.tree.weigh(())
    assert alone is not None
    steps = _follow(work)
    weighted = None if conflict else work.tree.weigh(range(len(pieces)))
    before, after = steps[0].posterior, steps[-1].posterior
    events = tuple(
        Moved(name, work.tree.priors[name], before[name], None if conflict else after[name]) for name in work.tree.names
    )
    answer = Posterior(work.tree.evaluate(alone).holds, events, steps=tuple(steps), conflict=conflict)
    answer = _explain(work, answer, alone, weighted, explanations)
    try:
        answer = replace(answer, gates=_weigh_gates(work, alone, weighted))
    except LimitReached as reached:
        work.notes.append(f"Gates are left out. {reached}")
    return replace(answer, notes=tuple(work.notes))


def _follow(work: _Work) -> list[Step]:
    """The posterior after each piece, in order, as far as they can be true together."""
    steps = []
    for count in range(len(work.tree.pieces) + 1):
        work.watch.check()
        counted = range(count)
        p = work.tree.weigh(counted)
        if p is None or not work.tree.is_possible(counted):
            break
        key = work.tree.pieces[count - 1].key if count else ""
        steps.append(Step(key, work.tree.find_events(p)))
    return steps


def _explain(work: _Work, answer: Posterior, alone: Vector, weighted: Vector | None, wanted: int) -> Posterior:
    """Add the leading cut sets: those likeliest under the weighted probabilities, each with its exact posterior."""
    solution = solve(compile_model(work.model, work.top), work.watch)
    if solution.sign or not solution.diagrams:
        work.notes.append("The top event needs no event to occur, so no set of events explains it.")
        return replace(answer, cut_sets=1 if solution.sign else 0)
    families = minimal_cut_sets(solution, work.watch)
    count = sum(count_by_order(families).values())
    p = alone if weighted is None else weighted
    own = np.array([p[work.tree.places[name]] for name in solution.variables])
    found, complete = likeliest_sets(families, own, wanted)
    root = work.tree.evaluate(p).holds
    listed = [
        Explanation(
            tuple(sorted(solution.variables[v] for v in members)),
            float(np.prod([work.tree.priors[solution.variables[v]] for v in members])),
            _find_joint(work.tree, alone, [solution.variables[v] for v in members]),
            None if weighted is None else _find_joint(work.tree, weighted, [solution.variables[v] for v in members]),
        )
        for members, _ in found
    ]
    ranked = sorted(listed, key=lambda each: (-_rank(each), len(each.events), each.events))
    others = found[-1][1] / root if found and len(found) < count else 0.0
    sure = sum(_rank(each) >= others for each in ranked) if complete else 0
    if len(found) < count:
        work.notes.append(
            f"{len(found):,} of {count:,} minimal cut sets are shown; the first {sure:,} are proved to be the leading."
        )
    return replace(answer, explanations=tuple(ranked), explanations_sure=sure, cut_sets=count)


def _rank(explanation: Explanation) -> float:
    return explanation.given_top if explanation.posterior is None else explanation.posterior


def _find_joint(tree: Conditioned, p: Vector, names: Sequence[str]) -> float:
    """P(all these events | top, evidence): the product of their probabilities times P(root | all) over P(root)."""
    places = [tree.places[name] for name in names]
    product = float(np.prod(p[places]))
    if product == 0.0:
        return 0.0
    given = p.copy()
    given[places] = 1.0
    return min(product * evaluate(tree.solution, given).holds / tree.evaluate(p).holds, 1.0)


def _weigh_gates(work: _Work, alone: Vector, weighted: Vector | None) -> tuple[Moved, ...]:
    names = [name for name in order_gates(work.model, [work.top])[::-1] if name != work.top]
    if len(names) > MOST_GATES:
        work.notes.append(f"Gates are left out: there are {len(names):,}, and {MOST_GATES} is the most.")
        return ()
    return tuple(_weigh_gate(work, name, alone, weighted) for name in names)


def _weigh_gate(work: _Work, name: str, alone: Vector, weighted: Vector | None) -> Moved:
    """A gate is one more piece of evidence, that it occurred: P(root and gate) over P(root)."""
    work.watch.check()
    pieces = (*work.tree.pieces, Piece("", name, OCCURRED))
    tree = build(work.model, work.top, pieces, work.mission_time, work.watch)
    last = len(pieces) - 1
    return Moved(
        name,
        _find_prior(work, name),
        _share(tree, (last,), work.tree.evaluate(alone).holds),
        None if weighted is None else _share(tree, range(len(pieces)), work.tree.evaluate(weighted).holds),
    )


def _share(tree: Conditioned, counted: Sequence[int], whole: float) -> float:
    p = tree.weigh(counted)
    return 0.0 if p is None else min(evaluate(tree.solution, p).holds / whole, 1.0)


def _find_prior(work: _Work, gate: str) -> float:
    solution: Solution = solve(compile_model(work.model, gate), work.watch)
    values = EventTable(work.model, solution.variables).probabilities(work.mission_time)
    return evaluate(solution, values).holds
