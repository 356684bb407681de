"""The distribution of the top-event probability over the samples, with its percentiles."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, bottom_axis, left_axis, svg

WIDTH, HEIGHT = 560.0, 316.0
LEFT, RIGHT, TOP, BASE = 52.0, 22.0, 72.0, 272.0
ROWS, LETTER = 3, 7.0


def draw_histogram(spread: dict[str, Any]) -> str:
    """Return the histogram; empty when all samples are the same."""
    edges, counts = spread["histogram"]["edges"], spread["histogram"]["counts"]
    if edges[-1] - edges[0] <= abs(edges[0]) * 1e-6:
        return ""
    x = Scale(edges[0], edges[-1], LEFT, WIDTH - RIGHT, is_log=_is_geometric(edges))
    y = Scale(0.0, max(counts) * 1.06, BASE, TOP)
    bars = [_bar(x, y, low, high, count) for (low, high), count in zip(pairwise(edges), counts, strict=True) if count]
    how = "powers of ten" if x.is_log else "even"
    label = f"Histogram of {spread['samples']} samples, {how} scale; 5th percentile {write_plain(spread['p05'])}, "
    label += f"median {write_plain(spread['p50'])}, 95th percentile {write_plain(spread['p95'])}."
    return svg(
        WIDTH,
        HEIGHT,
        label,
        left_axis(y, LEFT, WIDTH - RIGHT, "Samples per bin", lambda value: f"{value:g}"),
        *bars,
        bottom_axis(x, BASE, BASE, "Top-event probability"),
        *_percentiles(x, spread),
    )


def _is_geometric(edges: list[float]) -> bool:
    first, last = edges[1] - edges[0], edges[-1] - edges[-2]
    return edges[0] > 0.0 and last > 1.5 * first


def _bar(x: Scale, y: Scale, low: float, high: float, count: int) -> str:
    left, right, top = x(low), x(high), y(count)
    words = f"{count} samples from {write_plain(low)} to {write_plain(high)}"
    rect = element("rect", x=left + 0.5, y=top, width=max(right - left - 1.0, 0.5), height=BASE - top, class_="bar")
    return element("g", element("title", words), rect)


def _percentiles(x: Scale, spread: dict[str, Any]) -> list[str]:
    """Lines with names above them, each in the lowest of three rows where it is free of the others."""
    named = (("5 %", "p05"), ("median", "p50"), ("mean", "mean"), ("95 %", "p95"))
    ends = [-math.inf] * ROWS
    parts = []
    for name, key in sorted(named, key=lambda pair: spread[pair[1]]):
        place = x(min(max(spread[key], x.low), x.high))
        half = LETTER * len(name) / 2
        row = next((row for row, end in enumerate(ends) if place - half > end), ROWS - 1)
        ends[row] = place + half + 6
        top = TOP - 8 - 14 * row
        kind = "chart-mark" + (" chart-mark--mean" if key == "mean" else "")
        parts.append(element("path", d=f"M{place:.1f} {BASE}V{top + 4:.1f}", class_=kind))
        parts.append(text(name, x=place, y=top, text_anchor="middle", class_="chart-value"))
    return parts
