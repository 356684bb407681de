"""Small pictures beside what is being edited: one event over the mission, one distribution."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from config.kit.figures import write_plain, write_tick
from config.kit.markup import element, text
from config.kit.plots import Scale, polyline, svg

WIDTH, HEIGHT = 260.0, 90.0
LEFT, RIGHT, TOP, BASE = 8.0, 8.0, 20.0, 70.0
LETTER = 6.5  # width of a small letter, for telling whether two names would touch
MOST_SHIFT = 20.0  # of a name aside from its line


@dataclass(frozen=True, slots=True)
class Spread:
    """Mean and percentiles of an uncertain value."""

    mean: float
    p05: float
    p50: float
    p95: float

    @property
    def words(self) -> str:
        """The figures for those who can't see the picture."""
        return (
            f"mean {write_plain(self.mean)}, 5th percentile {write_plain(self.p05)}, median {write_plain(self.p50)}, "
            f"95th percentile {write_plain(self.p95)}"
        )


def draw_course(times: Sequence[float], values: Sequence[float], name: str, spread: Spread | None = None) -> str:
    """Return the probability of an event from the first to the last time, hours.

    Two points at nearly the same time are a jump. The spread, if there is one, is that at the last time; it
    stands there as an upright bar from the 5th to the 95th percentile. Empty for fewer than two points.
    """
    if len(times) < 2 or times[-1] <= times[0]:
        return ""
    highest = max(*values, spread.p95 if spread else 0.0)
    x = Scale(times[0], times[-1], LEFT, WIDTH - RIGHT - 4.0)
    y = Scale(0.0, highest or 1.0, BASE, TOP)
    xs, ys = [x(t) for t in times], [y(max(value, 0.0)) for value in values]
    line = polyline(xs, ys)
    parts = [
        element("path", d=f"M{LEFT} {BASE}H{WIDTH - RIGHT}", class_="chart-axis"),
        element("path", d=f"{line}L{xs[-1]:.1f} {BASE}L{xs[0]:.1f} {BASE}Z", class_="curve-area curve-area--1"),
        element("path", d=line, class_="curve curve--1"),
        text(f"{write_tick(times[0])} h", x=LEFT, y=BASE + 15, class_="chart-tick"),
        text(f"{write_tick(times[-1])} h", x=WIDTH - RIGHT, y=BASE + 15, text_anchor="end", class_="chart-tick"),
        text(f"highest {write_plain(max(values))}", x=LEFT, y=12, class_="chart-tick"),
        text(f"at the end {write_plain(values[-1])}", x=WIDTH - RIGHT, y=12, text_anchor="end", class_="chart-tick"),
    ]
    label = f"Probability of {name}: {write_plain(values[0])} at {times[0]:g} h, {write_plain(values[-1])} at "
    label += f"{times[-1]:g} h, at most {write_plain(max(values))}"
    if spread:
        low, high = y(max(spread.p05, 0.0)), y(spread.p95)
        end = xs[-1]
        bar = f"M{end:.1f} {low:.1f}V{high:.1f}M{end - 3:.1f} {low:.1f}h6M{end - 3:.1f} {high:.1f}h6"
        parts.append(element("path", d=bar, class_="chart-mark"))
        label += f"; uncertain at the end: {spread.words}"
    return svg(WIDTH, HEIGHT, f"{label}.", *parts, class_="chart preview")


def draw_distribution(edges: Sequence[float], counts: Sequence[int], spread: Spread, name: str) -> str:
    """Return a histogram of draws with lines at the mean, 5 %, 50 % and 95 %.

    Edges that rise by a constant factor are drawn by powers of ten. Empty when all draws are the same.
    """
    if len(edges) < 2 or edges[-1] <= edges[0]:
        return ""
    geometric = edges[0] > 0.0 and edges[-1] - edges[-2] > 1.5 * (edges[1] - edges[0])
    x = Scale(edges[0], edges[-1], LEFT, WIDTH - RIGHT, is_log=geometric)
    y = Scale(0.0, float(max(counts)), BASE, TOP)
    parts = [_bar(x, y, low, high, n) for (low, high), n in zip(pairwise(edges), counts, strict=True) if n]
    parts.append(element("path", d=f"M{LEFT} {BASE}H{WIDTH - RIGHT}", class_="chart-axis"))
    parts.append(text(write_plain(edges[0]), x=LEFT, y=BASE + 15, class_="chart-tick"))
    parts.append(text(write_plain(edges[-1]), x=WIDTH - RIGHT, y=BASE + 15, text_anchor="end", class_="chart-tick"))
    parts.extend(_marks(x, spread))
    scale = "by powers of ten" if geometric else "evenly scaled"
    return svg(WIDTH, HEIGHT, f"Distribution of {name}, {scale}: {spread.words}.", *parts, class_="chart preview")


def _bar(x: Scale, y: Scale, low: float, high: float, count: int) -> str:
    left, right, top = x(low), x(high), y(float(count))
    width = max(right - left - 0.5, 0.5)
    return element("rect", x=left, y=top, width=width, height=BASE - top, class_="bar")


def _marks(x: Scale, spread: Spread) -> list[str]:
    """Lines with names; the mean's hangs below the axis, so that it never touches that of the median."""
    parts = []
    end = -math.inf
    for name, value in (("5 %", spread.p05), ("50 %", spread.p50), ("95 %", spread.p95)):
        place = x(min(max(value, x.low), x.high))
        parts.append(element("path", d=f"M{place:.1f} {BASE}V{TOP - 4}", class_="chart-mark"))
        half = len(name) * LETTER / 2
        middle = min(max(place, LEFT + half, end + half), WIDTH - half)
        if middle - half >= end and abs(middle - place) <= MOST_SHIFT:
            parts.append(text(name, x=middle, y=12, text_anchor="middle", class_="chart-tick"))
            end = middle + half + 2.0
    place = x(min(max(spread.mean, x.low), x.high))
    half = 18.0
    parts.append(element("path", d=f"M{place:.1f} {TOP}V{BASE + 5}", class_="chart-mark chart-mark--mean"))
    if place - half > LEFT + 70 and place + half < WIDTH - RIGHT - 70:
        parts.append(text("mean", x=place, y=BASE + 15, text_anchor="middle", class_="chart-tick"))
    return parts
