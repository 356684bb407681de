"""Importance as bars: the leading events by one measure."""

from __future__ import annotations

import math

from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, bottom_axis, svg
from faulttree.drawing.wrapping import fit
from faulttree.reads.tables import EventRow, Measure

WIDTH, LEFT, RIGHT = 470.0, 168.0, 70.0
ROW, TOP, FOOT = 24.0, 6.0, 40.0
MOST = 14
LOG_FROM = 200.0
"""A spread of more than this between the bars is drawn by powers of ten, as dots: bars need a zero."""


def draw_importance(rows: list[EventRow], measure: Measure, place: int) -> str:
    """Return a chart of the first rows that have a finite value; empty when none has."""
    shown = [(row, row.values[place]) for row in rows]
    points = [(row, value) for row, value in shown if value is not None and math.isfinite(value)][:MOST]
    if not points or not any(value for _, value in points):
        return ""
    base = TOP + ROW * len(points)
    scale = _scale([value for _, value in points], measure)
    parts = [bottom_axis(scale, TOP, base, measure.name)]
    parts += [_bar(scale, row, value, TOP + ROW * (n + 0.5)) for n, (row, value) in enumerate(points)]
    label = f"{measure.name} of the first {len(points)} events of the table."
    return svg(WIDTH, base + FOOT, label, *parts)


def _scale(values: list[float], measure: Measure) -> Scale:
    low, high = min(values), max(values)
    if low > 0.0 and high / low > LOG_FROM:
        return Scale(10.0 ** math.floor(math.log10(low)), high * 1.3, LEFT, WIDTH - RIGHT, is_log=True)
    start = 1.0 if measure.is_ratio and low >= 1.0 else min(0.0, low)
    stop = max(high, 0.0)
    return Scale(start, stop if stop > start else start + 1.0, LEFT, WIDTH - RIGHT)


def _bar(scale: Scale, row: EventRow, value: float, middle: float) -> str:
    x = scale(value)
    zero = scale.start if scale.is_log or scale.low > 0.0 else scale(0.0)
    left, right = min(zero, x), max(zero, x)
    name = row.event.label or row.event.name
    if scale.is_log:
        mark = element("path", d=f"M{zero:.1f} {middle:.1f}H{x:.1f}", class_="bar-thread") + element(
            "circle", cx=x, cy=middle, r=4.0, class_="bar"
        )
    else:
        mark = element("rect", x=left, y=middle - 6, width=max(right - left, 1.0), height=12.0, class_="bar")
    return element(
        "g",
        element("title", _escape(f"{name}: {write_plain(value, 4)}")),
        text(fit(name, 23), x=LEFT - 10, y=middle + 4, text_anchor="end", class_="chart-label"),
        mark,
        text(write_plain(value, 3), x=right + 7, y=middle + 4, class_="chart-value"),
    )


def _escape(words: str) -> str:
    return words.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
