"""What an event or an expression comes to while it is being edited: a small picture, figures, or what is missing."""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from faulttree.charts.preview import Spread, draw_course, draw_distribution
from faulttree.engine.analysis.uncertainty import bin_samples
from faulttree.engine.errors import BadModel, EngineError
from faulttree.engine.events.deviates import quantile_of
from faulttree.engine.events.evaluate import Evaluator
from faulttree.engine.events.functions import DEVIATES
from faulttree.engine.events.parts import is_random, is_timed, parameters_in, resolve
from faulttree.engine.events.sampling import Sampling
from faulttree.engine.events.table import EventTable
from faulttree.engine.model import BasicEvent, Call, Expression, Model
from faulttree.engine.overrides import members_of_groups

DRAWS = 4_000
BINS = 24
POINTS = 97
JUST_BEFORE = 1.0 - 1e-9  # of the time of a test
MOST_JUMPS = 400  # more than the picture has room for

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Preview:
    """A small picture with its figures; None and an empty picture where there are none.

    value : with uncertain parameters at their mean, at the mission time where it depends on it
    mean, p05, p50, p95 : of the distribution, None where nothing is uncertain
    notes : whole sentences: what is missing, how the figures were got
    """

    svg: str = ""
    value: float | None = None
    mean: float | None = None
    p05: float | None = None
    p50: float | None = None
    p95: float | None = None
    notes: tuple[str, ...] = ()


def preview_event(model: Model, name: str, mission_time: float | None) -> Preview:
    """Return how probable a basic event is over the mission (hours), or the distribution of its probability."""
    event = model.basic_events.get(name)
    if event is None:
        return Preview(notes=(f"There is no basic event {name}.",))
    notes: list[str] = []
    expression = event.expression
    group = model.common_cause_groups.get(members_of_groups(model).get(name, ""))
    if group is not None:
        expression = group.distribution
        notes.append(f"This is the whole probability of one member of the common-cause group {group.name}.")
    if expression is None:
        return Preview(notes=(f"{name} has no probability yet.",))
    return _guard(model, name, expression, mission_time, notes, is_share=True)


def preview_expression(model: Model, expression: Expression, mission_time: float | None) -> Preview:
    """Return the value of an expression at the mission time (hours) and its distribution."""
    return _guard(model, "the expression", expression, mission_time, [], is_share=False)


def _guard(
    model: Model, name: str, expression: Expression, mission_time: float | None, notes: list[str], *, is_share: bool
) -> Preview:
    """Compute a preview; whatever is amiss becomes a sentence."""
    gap = _find_gap(model, expression)
    if not gap and mission_time is None and is_timed(model, expression):
        gap = "It depends on the mission time. Give a mission time in hours to see it."
    if not gap and mission_time is not None and not 0.0 <= mission_time < np.inf:
        gap = "The mission time must be 0 or more. Give hours."
    if gap:
        return Preview(notes=(*notes, gap))
    try:
        return _compute(model, name, expression, mission_time, notes, is_share=is_share)
    except BadModel as refused:
        said = tuple(f"{problem.message} {problem.mend}".strip() for problem in refused.problems)
        return Preview(notes=(*notes, *said))
    except (EngineError, ArithmeticError, ValueError, RecursionError) as error:
        return Preview(notes=(*notes, f"It can't be computed as it stands: {error}"))


def _find_gap(model: Model, expression: Expression) -> str:
    """A parameter below an expression that isn't there, or one that depends on itself, in a sentence."""
    uses = nx.DiGraph()
    waiting = list(parameters_in(expression))
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        if name not in model.parameters:
            return f"There is no parameter {name} yet."
        seen.add(name)
        below = parameters_in(model.parameters[name].expression)
        uses.add_edges_from((name, inner) for inner in below)
        waiting.extend(below)
    if nx.is_directed_acyclic_graph(uses):
        return ""
    circle = min(min(part) for part in nx.simple_cycles(uses))
    return f"The parameter {circle} depends on itself. Break the circle."


def _compute(
    model: Model, name: str, expression: Expression, mission_time: float | None, notes: list[str], *, is_share: bool
) -> Preview:
    value = float(Evaluator(model, mission_time).value(name, expression))
    if is_share and not -1e-12 <= value <= 1.0 + 1e-12:
        notes.append(f"Its probability comes out as {value:g}, outside [0, 1]. Check its expression and parameters.")
        return Preview(notes=tuple(notes))
    spread, drawn = None, None
    if is_random(model, expression):
        drawn, cut = _draw(model, name, expression, mission_time, is_share=is_share)
        spread = _measure(model, expression, mission_time, drawn, notes, exact=not cut)
        if cut:
            notes.append(f"{cut:,} of {DRAWS:,} draws lay outside their range and were cut to the bound.")
    svg = ""
    if mission_time and is_share and is_timed(model, expression):
        svg = _draw_course(model, name, expression, mission_time, spread, notes)
    elif spread is not None and drawn is not None:
        counts, edges = bin_samples(np.sort(drawn), BINS)
        svg = draw_distribution(edges.tolist(), counts.tolist(), spread, name)
    elif is_share:
        notes.append("It is the same at all times and nothing in it is uncertain.")
    if spread is None:
        return Preview(svg, value, notes=tuple(notes))
    return Preview(svg, value, spread.mean, spread.p05, spread.p50, spread.p95, tuple(notes))


def _draw(
    model: Model, name: str, expression: Expression, mission_time: float | None, *, is_share: bool
) -> tuple[Values, int]:
    """Draws of an expression and how many were cut to the range of what they stand for."""
    evaluator = Evaluator(model, mission_time, Sampling(DRAWS, 1, "latin-hypercube", 0, DRAWS))
    drawn = np.broadcast_to(evaluator.value(name, expression), DRAWS)
    outside = int(np.count_nonzero((drawn < 0.0) | (drawn > 1.0))) if is_share else 0
    return (np.clip(drawn, 0.0, 1.0) if is_share else drawn), outside + evaluator.clipped


def _measure(
    model: Model, expression: Expression, mission_time: float | None, drawn: Values, notes: list[str], *, exact: bool
) -> Spread:
    """Mean and percentiles: by formula for a deviate of fixed parameters, else from the draws."""
    call = resolve(model, expression)
    is_plain = isinstance(call, Call) and call.function in DEVIATES and call.function != "histogram"  # may fall
    if exact and isinstance(call, Call) and is_plain and not any(is_random(model, a) for a in call.arguments):
        evaluator = Evaluator(model, mission_time)
        arguments = [evaluator.value("it", argument) for argument in call.arguments]
        p05, p50, p95 = (float(quantile_of(call.function, arguments, np.asarray(u))) for u in (0.05, 0.5, 0.95))
        return Spread(float(evaluator.value("it", call)), p05, p50, p95)
    notes.append(f"Mean and percentiles are from {DRAWS:,} draws and so approximate.")
    p05, p50, p95 = (float(q) for q in np.quantile(drawn, (0.05, 0.5, 0.95)))
    return Spread(float(np.mean(drawn)), p05, p50, p95)


def _draw_course(
    model: Model, name: str, expression: Expression, mission_time: float, spread: Spread | None, notes: list[str]
) -> str:
    """The curve from 0 to the mission time, with a point just before and one at each jump."""
    alone = Model(basic_events={name: BasicEvent(name, expression)}, parameters=model.parameters)
    table = EventTable(alone, (name,))
    jumps = table.break_times(0.0, mission_time)
    if len(jumps) > MOST_JUMPS:
        jumps = jumps[np.linspace(0, len(jumps) - 1, MOST_JUMPS).astype(int)]
        notes.append("There are more tests than the picture has room for; some are left out of it.")
    if table.events_with_corners:
        notes.append("The curve may jump or bend between its points.")
    grid = np.linspace(0.0, mission_time, POINTS)
    times = np.unique(np.concatenate((grid, jumps, jumps * JUST_BEFORE)))
    return draw_course(times.tolist(), table.over_time(times).probability[:, 0].tolist(), name, spread)
