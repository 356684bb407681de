"""Anomalies per exposure as bars: all of them, or a strip for each group."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from anomalies.charts.trend_frame import (
    FOOT,
    MOST_PERIODS,
    TOP,
    Size,
    amount_words,
    count_words,
    draw_periods,
    frame,
    lead,
    place_bands,
    value_scale,
)
from anomalies.reads.trends.groups import Group
from anomalies.reads.trends.periods import Row
from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, left_axis

MOST_GROUPS = 8
STRIP, HEAD = 44.0, 18.0


def draw_rates(rows: Sequence[Row], unit: str, period: str, find: Callable[[Row], str], size: Size) -> str:
    """Return a bar for each period; `find` gives the address of its records."""
    shown = rows[-MOST_PERIODS:]
    base = size.height - FOOT
    scale = value_scale(max((row.rate or 0.0 for row in shown), default=0.0), base)
    middles, width = place_bands(len(shown), size)
    bars = (_draw_bar(row, x, width, scale, unit, find(row)) for row, x in zip(shown, middles, strict=True))
    return frame(
        size,
        size.height,
        f"Anomalies per {unit}, by {period}",
        left_axis(scale, size.left, size.right, f"Anomalies per {unit}"),
        *bars,
        draw_periods([row.label for row in shown], middles, base, period.capitalize(), size),
    )


def draw_groups(groups: Sequence[Group], unit: str, period: str, find: Callable[[Group, Row], str], size: Size) -> str:
    """Return a strip of bars for each of the largest groups, all on one scale."""
    shown = groups[:MOST_GROUPS]
    highest = max((row.rate or 0.0 for group in shown for row in group.rows[-MOST_PERIODS:]), default=0.0)
    parts, top = [], TOP
    middles: list[float] = []
    labels: list[str] = []
    room = int((size.right - size.left) / 6.4)
    for group in shown:
        rows = group.rows[-MOST_PERIODS:]
        base = top + HEAD + STRIP
        scale = value_scale(highest, base, top + HEAD)
        middles, width = place_bands(len(rows), size)
        labels = [row.label for row in rows]
        name = group.label if len(group.label) <= room else f"{group.label[: room - 1].rstrip()}…"
        parts.append(text(name, x=size.left, y=top + 11, class_="chart-label"))
        parts += [
            element("path", d=f"M{size.left:.1f} {scale(value):.1f}H{size.right:.1f}", class_="chart-grid")
            + text(write_plain(value, 2), x=size.left - 7, y=scale(value) + 3.5, text_anchor="end", class_="chart-tick")
            for value in ([highest] if highest else [])
        ]
        parts.append(element("path", d=f"M{size.left:.1f} {base:.1f}H{size.right:.1f}", class_="chart-axis"))
        parts += [
            _draw_bar(row, x, width, scale, unit, find(group, row), group.label)
            for row, x in zip(rows, middles, strict=True)
        ]
        top = base + 6.0
    axis = draw_periods(labels, middles, top - 6.0, period.capitalize(), size)
    name = text(f"Anomalies per {unit}, of each by itself", x=0, y=12, class_="chart-name")
    return frame(size, top + FOOT, f"Anomalies per {unit}, by {period}, of each group", name, *parts, axis)


def describe(row: Row, unit: str, name: str = "") -> str:
    """Return a row in words."""
    head = f"{name}, {row.label}" if name else row.label
    counted = f"{head}: {count_words(row.count)} in {amount_words(row.exposure, unit)}"
    return f"{counted}, {write_plain(row.rate, 3)} per {unit}" if row.rate is not None else f"{counted}, so no rate"


def _draw_bar(row: Row, x: float, width: float, scale: Scale, unit: str, url: str, name: str = "") -> str:
    """A bar; a ring on the axis where there's no exposure."""
    words = describe(row, unit, name)
    if row.rate is None:
        ring = element("circle", cx=x, cy=scale.start, r=3.5, class_="trend__none")
        return lead(url if row.count else "", words, ring)
    broad = min(width * 0.72, 46.0)
    top = scale(row.rate)
    bar = element("rect", x=x - broad / 2, y=top, width=broad, height=max(scale.start - top, 0.0), class_="trend__bar")
    return lead(url if row.count else "", words, bar)
