"""The steps from a top-event probability before to the one after, each option's reduction on top of those before it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from config.kit.figures import write_plain
from config.kit.markup import element, text, title
from config.kit.plots import Scale, bottom_axis, svg
from faulttree.drawing.wrapping import fit
from faulttree.engine.effects.weigh import Weighed

WIDTH, LEFT, RIGHT = 440.0, 10.0, 72.0
ROW, TOP, FOOT = 40.0, 4.0, 42.0
LETTERS = 62
LOG_FROM = 20.0
"""From this ratio of the largest to the smallest on, the axis goes by powers of ten."""


def draw_waterfall(weighed: Weighed, names: Mapping[str, str]) -> str:
    """Return the chart; empty where there is no step, or nothing above 0.

    names : option -> what it is called beside its bar
    """
    start = weighed.before.probability
    if not weighed.steps or start <= 0.0:
        return ""
    rows = [("Before", start, start)]
    reached = start
    for step in weighed.steps:
        rows.append((names.get(step.option, step.option), reached, step.probability))
        reached = step.probability
    last = "All together" if weighed.together is not None else "All that go together"
    rows.append((last, reached, reached))
    scale = _scale([value for _, left, right in rows for value in (left, right) if value > 0.0])
    base = TOP + ROW * len(rows)
    parts = [bottom_axis(scale, TOP, base, "Top-event probability")]
    for place, (name, left, right) in enumerate(rows):
        parts.append(_row(scale, name, left, right, TOP + ROW * (place + 0.68), place in (0, len(rows) - 1)))
    parts += [
        _join(scale, rows[place][2], TOP + ROW * (place + 0.68), TOP + ROW * (place + 1.68))
        for place in range(len(rows) - 1)
    ]
    told = "; ".join(f"{name} {write_plain(right, 3)}" for name, _, right in rows)
    return svg(WIDTH, base + FOOT, f"Top-event probability step by step: {told}.", *parts, class_="chart waterfall")


def _scale(values: list[float]) -> Scale:
    low, high = min(values), max(values)
    if high / low >= LOG_FROM:
        return Scale(10.0 ** math.floor(math.log10(low) - 0.2), high * 1.2, LEFT, WIDTH - RIGHT, is_log=True)
    return Scale(0.0, high * 1.04, LEFT, WIDTH - RIGHT)


def _place(scale: Scale, value: float) -> float:
    """Zero, which an axis of powers of ten doesn't have, stands at its start."""
    return scale.start if value <= 0.0 else scale(max(value, scale.low))


def _row(scale: Scale, name: str, before: float, after: float, middle: float, is_whole: bool) -> str:
    label = text(fit(name, LETTERS), x=LEFT, y=middle - 11, class_="chart-label")
    low, high = sorted((_place(scale, before), _place(scale, after)))
    if is_whole:
        low, high = scale.start, _place(scale, after)
    kind = "whole" if is_whole else "better" if after <= before else "worse"
    bar = element(
        "rect", x=low, y=middle - 6, width=max(high - low, 2.0), height=12.0, class_=f"waterfall-bar is-{kind}"
    )
    value = text(write_plain(after, 3), x=high + 8, y=middle + 4, class_="chart-value")
    told = f"{name}: {write_plain(after, 4)}" if is_whole else f"{name}: {_say(before, after)}"
    return element("g", title(told), label, bar, value)


def _say(before: float, after: float) -> str:
    return f"from {write_plain(before, 4)} to {write_plain(after, 4)}"


def _join(scale: Scale, value: float, above: float, below: float) -> str:
    x = _place(scale, value)
    return element("path", d=f"M{x:.1f} {above + 6:.1f}V{below - 6:.1f}", class_="waterfall-join")
