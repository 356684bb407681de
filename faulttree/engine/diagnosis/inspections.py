"""What a possible inspection would tell: the expected information of its result."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from faulttree.engine.analysis.probability import evaluate
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagnosis.conditioned import Conditioned, build
from faulttree.engine.diagnosis.pieces import Piece, find_test_ratio
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.model import Model
from faulttree.engine.validate import choose_top


@dataclass(frozen=True, slots=True)
class Inspection:
    """A test of a basic event or gate; sensitivity = P(found | occurred), false_alarm = P(found | did not occur)."""

    key: str
    target: str
    sensitivity: float
    false_alarm: float


@dataclass(frozen=True, slots=True)
class Worth:
    """What an inspection is expected to tell, given the top event and all evidence so far.

    bits : mutual information of the result and the state of the target, base 2. The result depends on the tree through
        its target alone, so this is its information on the state of all events together.
    positive_probability : that it finds the target
    if_positive, if_negative : posterior of the target after either result; None where that result can't come
    leader_now, leader_if_positive, leader_if_negative : the likeliest basic event
    """

    key: str
    bits: float
    target_probability: float
    positive_probability: float
    if_positive: float | None
    if_negative: float | None
    leader_now: str
    leader_if_positive: str | None
    leader_if_negative: str | None


def weigh_inspections(
    model: Model,
    top: str,
    pieces: Sequence[Piece],
    inspections: Sequence[Inspection],
    *,
    mission_time: float | None = None,
    budget: Budget | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Worth, ...]:
    """Return the worth of each inspection, in their order.

    I(result; target) = H(result) - P(target) H(s) - P(not target) H(f), H the binary entropy in bits. Source: Shannon
    1948; Cover and Thomas, Elements of Information Theory, chapter 2 (from memory). Results are independent of all else
    given the state of their target. Raises BadModel for evidence in conflict, LimitReached past the budget.
    """
    watch = Watch(budget or Budget())
    if cancelled is not None:
        watch.cancelled = cancelled
    top = choose_top(model, top)
    expanded = expand_common_cause(model)
    return tuple(_weigh(expanded, top, pieces, each, mission_time, watch) for each in inspections)


def _weigh(
    model: Model, top: str, pieces: Sequence[Piece], asked: Inspection, mission_time: float | None, watch: Watch
) -> Worth:
    watch.check()
    s, f = asked.sensitivity, asked.false_alarm
    extra = [Piece("", asked.target, math.inf)]
    results = {found: _result(asked, found) for found in (True, False)}
    extra += [piece for piece in results.values() if piece is not None]
    tree = build(model, top, [*pieces, *extra], mission_time, watch)
    known = range(len(pieces))
    p = tree.weigh(known)
    if p is None or not tree.is_possible(known):
        message = "The evidence so far can't all be true together with the top event."
        raise BadModel(Problem(message, "Take a piece of it back.", "evidence"))
    occurred = _find_share(tree, known, len(pieces))
    positive = occurred * s + (1.0 - occurred) * f
    places = {found: tree.pieces.index(piece) for found, piece in results.items() if piece is not None}

    def lead_after(found: bool, chance: float) -> str | None:
        return _find_leader(tree, [*known, places[found]]) if chance > 0.0 and found in places else None

    return Worth(
        asked.key,
        max(_entropy(positive) - occurred * _entropy(s) - (1.0 - occurred) * _entropy(f), 0.0),
        occurred,
        positive,
        occurred * s / positive if positive > 0.0 else None,
        occurred * (1.0 - s) / (1.0 - positive) if positive < 1.0 else None,
        _find_leader(tree, [*known]) or "",
        lead_after(True, positive),
        lead_after(False, 1.0 - positive),
    )


def _result(asked: Inspection, found: bool) -> Piece | None:
    """The piece of evidence that a result would be; None for a result that can't come."""
    try:
        ratio = find_test_ratio(asked.sensitivity, asked.false_alarm, found=found)
    except BadModel:
        if not (0.0 <= asked.sensitivity <= 1.0 and 0.0 <= asked.false_alarm <= 1.0):
            raise
        return None
    return Piece("found" if found else "not found", asked.target, ratio)


def _find_share(tree: Conditioned, known: Sequence[int], target: int) -> float:
    """P(target | top, evidence): with the target one more piece, over without."""
    plain = tree.weigh(known)
    assert plain is not None
    name = tree.pieces[target].target
    if name in tree.priors:
        return tree.find_events(plain)[name]
    p = tree.weigh([*known, target])
    return 0.0 if p is None else min(evaluate(tree.solution, p).holds / tree.evaluate(plain).holds, 1.0)


def _find_leader(tree: Conditioned, counted: Sequence[int]) -> str | None:
    """The likeliest basic event, the first of equal ones; None where the result can't come."""
    p = tree.weigh(counted)
    if p is None or not tree.is_possible(counted):
        return None
    events = tree.find_events(p)
    return max(events, key=lambda name: events[name], default=None)


def _entropy(q: float) -> float:
    """Binary entropy in bits."""
    return sum(-x * math.log2(x) for x in (q, 1.0 - q) if x > 0.0)
