"""The answer of a run as text for a terminal; every figure says how it was got."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from faulttree.engine.report import CAUTION
from faulttree.engine.results import CutSet, CutSets, Importance, Quantification, TimeCourse, Uncertainty

SHOWN_EVENTS = 12
SHOWN_TIMES = 25
DRIVERS = 5


def summarise(result: Quantification, *, file: str, shown_sets: int) -> str:
    """Return the text; at most `shown_sets` cut sets and the weightiest events are shown, and it says so."""
    blocks = [
        _head(result, file),
        _figures(result),
        _cut_sets(result, shown_sets),
        _importance(result),
        _time(result.time),
        _uncertainty(result.uncertainty),
        _diagnosis(result),
        _notes(result),
        [_cost(result), CAUTION],
    ]
    return "\n\n".join("\n".join(lines) for lines in map(list, blocks) if lines) + "\n"


def _head(result: Quantification, file: str) -> Iterator[str]:
    yield f"{file}: {result.tree}" if result.tree else file
    facts = [f"{result.events:,} events", f"{result.gates:,} gates"]
    if result.modules:
        facts.append(f"{result.modules:,} modules")
    facts.append("coherent" if result.coherent else "not coherent")
    yield f"  top event {result.top}: {', '.join(facts)}"
    if result.mission_time is not None:
        yield f"  mission time {result.mission_time:g} h"


def _figures(result: Quantification) -> Iterator[str]:
    if result.method == "exact":
        yield f"  probability            {number(result.probability)}   exact"
    else:
        yield f"  probability between    {number(result.lower)}"
        yield f"              and        {number(result.upper)}   certified bracket, not exact"
    if result.rare_event is not None:
        yield f"  rare-event sum         {number(result.rare_event)}   approximation"
    if result.min_cut_upper_bound is not None:
        bound = "upper bound" if result.coherent else "approximation: the tree is not coherent"
        yield f"  min-cut upper bound    {number(result.min_cut_upper_bound)}   {bound}"


def _cut_sets(result: Quantification, shown: int) -> Iterator[str]:
    cut_sets = result.cut_sets
    if cut_sets is not None:
        kind = "exact count" if cut_sets.exact else "those kept for the bracket; there are more"
        yield from _listing(f"Minimal cut sets: {cut_sets.count:,} ({kind})", cut_sets, shown, result.probability)
    if result.prime_implicants is not None:
        yield from _listing("Prime implicants", result.prime_implicants, shown, None)


def _listing(title: str, cut_sets: CutSets, shown: int, whole: float | None) -> Iterator[str]:
    yield title
    yield "  by order: " + (", ".join(f"{order}: {count:,}" for order, count in cut_sets.by_order.items()) or "none")
    listed = cut_sets.listed[:shown]
    if listed:
        yield f"  the {len(listed)} likeliest:" if len(listed) < cut_sets.count else "  all, likeliest first:"
    for cut in listed:
        yield f"  {number(cut.probability)} {_share(cut, whole)}  {' · '.join(cut.events) or '(nothing has to happen)'}"


def _share(cut: CutSet, whole: float | None) -> str:
    return f"{cut.probability / whole:7.2%}" if whole else " " * 7


def _importance(result: Quantification) -> Iterator[str]:
    if not result.importance:
        return
    weightiest = sorted(result.importance.items(), key=lambda item: (-item[1].criticality, item[0]))[:SHOWN_EVENTS]
    title = "Importance"
    if len(weightiest) < len(result.importance):
        title += f" (the {len(weightiest)} most critical of {len(result.importance):,} events)"
    yield title
    yield from align(
        ["event", "Birnbaum", "criticality", "F-V union", "F-V rare-event", "RAW", "RRW", "diagnostic"],
        [[event, *_measures(measures)] for event, measures in weightiest],
    )


def _measures(measures: Importance) -> list[str]:
    return [
        brief(measures.birnbaum),
        brief(measures.criticality),
        brief(measures.fussell_vesely_union),
        brief(measures.fussell_vesely_rare_event),
        brief(measures.risk_achievement_worth),
        brief(measures.risk_reduction_worth),
        brief(measures.diagnostic),
    ]


def _time(course: TimeCourse | None) -> Iterator[str]:
    if course is None:
        return
    yield "Over time"
    step = math.ceil(len(course.points) / SHOWN_TIMES)
    points = course.points[::step]
    if step > 1:
        yield f"  every {step}th of {len(course.points):,} points; --json gives all"
    yield from align(
        ["t, h", "probability", "frequency, 1/h"],
        [[f"{point.t:g}", number(point.probability), brief(point.frequency)] for point in points],
    )
    yield f"  average probability    {number(course.average_probability)}"
    yield f"  expected failures      {brief(course.expected_failures)}"


def _uncertainty(found: Uncertainty | None) -> Iterator[str]:
    if found is None:
        return
    yield f"Uncertainty ({found.samples:,} samples, {found.sampling}, seed {found.seed})"
    yield f"  mean                   {number(found.mean)}   standard deviation {number(found.standard_deviation)}"
    yield f"  5 %, 50 %, 95 %        {number(found.p05)}  {number(found.p50)}  {number(found.p95)}"
    for driver in found.drivers[:DRIVERS]:
        if driver.rank_correlation is not None:
            share = "" if driver.variance_share is None else f", share of the variance {driver.variance_share:.3f}"
            which = f" ({driver.place})" if driver.place > 1 else ""
            yield f"  {driver.rank_correlation:+.3f} rank correlation of {driver.owner}{which}{share}"


def _diagnosis(result: Quantification) -> Iterator[str]:
    if result.diagnosis is None:
        return
    likeliest = sorted(result.diagnosis.posterior.items(), key=lambda item: (-item[1], item[0]))
    yield "Given that the top event happened, and the evidence"
    yield f"  evidence and top event together have probability {number(result.diagnosis.evidence_probability)}"
    if len(likeliest) > SHOWN_EVENTS:
        yield f"  the {SHOWN_EVENTS} likeliest of {len(likeliest):,} events:"
    for event, probability in likeliest[:SHOWN_EVENTS]:
        yield f"  {probability:8.6f}  {event}"


def _notes(result: Quantification) -> Iterator[str]:
    if result.notes:
        yield "Assumptions and notes"
        yield from (f"  - {note}" for note in result.notes)


def _cost(result: Quantification) -> str:
    total = result.seconds.get("total", sum(result.seconds.values()))
    return f"Took {total:.2f} s; peak memory {result.peak_memory_mib:,.0f} MiB."


def align(header: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Yield lines in columns: the first to the left, figures to the right."""
    table = [list(header), *map(list, rows)]
    widths = [max(len(row[column]) for row in table) for column in range(len(header))]
    for row in table:
        first, *rest = (cell.ljust(widths[0]) if not i else cell.rjust(widths[i]) for i, cell in enumerate(row))
        yield "  " + "  ".join([first, *rest])


def number(value: float | None) -> str:
    """Return a probability with six digits, or a dash."""
    return "—".rjust(12) if value is None else f"{value:12.6e}"


def brief(value: float | None) -> str:
    """Return a measure with four digits, or a dash."""
    return "—" if value is None else f"{value:.4g}"
