"""Confirmed causes, the most frequent first: bars of their shares, with the cumulative share as a line."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from anomalies.charts.trend_frame import FOOT, TOP, Size, frame, lead
from anomalies.reads.trends.causes import CauseRow
from config.kit.figures import write_share
from config.kit.markup import element, text
from config.kit.plots import Scale, bottom_axis, polyline

ROW, HEAD = 40.0, 16.0
MOST_ROWS = 12
"""Of more rows the first are drawn; the table under the chart holds all."""


def draw_causes(rows: Sequence[CauseRow], find: Callable[[CauseRow], str], size: Size) -> str:
    """Return the chart; bars and line have one scale, the share of all confirmed causes that are counted."""
    shown = rows[:MOST_ROWS]
    base = TOP + ROW * len(shown)
    left = 12.0
    x = Scale(0.0, 1.0, left, size.right - 12.0)
    room = int((x.stop - left) / 6.4) - 4
    parts = [bottom_axis(x, TOP, base, "Share of confirmed causes; line: cumulative", write_share_tick)]
    dots: list[tuple[float, float]] = []
    for n, row in enumerate(shown):
        top = TOP + ROW * n + HEAD
        words = (
            f"{row.label}: {row.count}, {write_share(row.share)} of all; with those above {write_share(row.cumulative)}"
        )
        name = row.label if len(row.label) <= room else f"{row.label[: room - 1].rstrip()}…"
        bar = element("rect", x=left, y=top, width=x(row.share) - left, height=16.0, class_="trend__bar")
        label = text(f"{name} · {row.count}", x=left, y=top - 4, class_="chart-label trend__over")
        parts.append(lead(find(row), words, bar, label))
        dots.append((x(row.cumulative), top + 8.0))
    line = element("path", d=polyline([at for at, _ in dots], [at for _, at in dots]), class_="trend__cumulative")
    marks = [element("circle", cx=at, cy=y, r=3.5, class_="trend__cumulative-point") for at, y in dots]
    return frame(size, base + FOOT, "Confirmed causes, the most frequent first", *parts, line, *marks)


def write_share_tick(value: float) -> str:
    """Return a share as an axis shows it."""
    return f"{value * 100:.0f} %"
