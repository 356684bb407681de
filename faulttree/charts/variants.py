"""Variants beside the tree as it stands: a dot for each exact probability, a bar for each bracket."""

from __future__ import annotations

import math
from collections.abc import Sequence

from config.kit.figures import write_plain
from config.kit.markup import element, text, title
from config.kit.plots import Scale, bottom_axis, svg
from faulttree.drawing.wrapping import fit
from faulttree.reads.comparison import Row

WIDTH, LEFT, RIGHT = 440.0, 10.0, 72.0
ROW, TOP, FOOT = 40.0, 4.0, 42.0
LETTERS = 56
LOG_FROM = 10.0
"""From this ratio of the largest to the smallest on, the axis goes by powers of ten."""


def draw_variants(rows: Sequence[Row]) -> str:
    """Return a chart of the rows whose figure is known; empty when that is fewer than two, or all are 0."""
    known = [row for row in rows if row.low is not None and row.high is not None]
    scale = _scale([value for row in known for value in (row.low, row.high) if value])
    if len(known) < 2 or scale is None:
        return ""
    base = TOP + ROW * len(known)
    parts = [bottom_axis(scale, TOP, base, "Top-event probability")]
    parts += [_reference(scale, row, base) for row in known if row.variant is None]
    parts += [_mark(scale, row, TOP + ROW * (number + 0.68)) for number, row in enumerate(known)]
    told = "; ".join(f"{row.name} {_say(row)}" for row in known)
    return svg(WIDTH, base + FOOT, f"Top-event probability of each variant: {told}.", *parts, class_="chart compared")


def _scale(values: list[float]) -> Scale | None:
    """The axis for the values above 0, None where there are none."""
    if not values:
        return None
    low, high = min(values), max(values)
    if high / low >= LOG_FROM:
        return Scale(10.0 ** math.floor(math.log10(low)), high * 1.2, LEFT, WIDTH - RIGHT, is_log=True)
    return Scale(0.0, high * 1.04, LEFT, WIDTH - RIGHT)


def _place(scale: Scale, value: float) -> float:
    """Zero, which an axis of powers of ten doesn't have, stands at its start."""
    return scale.start if value <= 0.0 else scale(max(value, scale.low))


def _reference(scale: Scale, row: Row, base: float) -> str:
    assert row.high is not None
    x = _place(scale, row.high)
    return element("path", d=f"M{x:.1f} {TOP:.1f}V{base:.1f}", class_="compared-base")


def _mark(scale: Scale, row: Row, middle: float) -> str:
    assert row.low is not None
    assert row.high is not None
    left, right = _place(scale, row.low), _place(scale, row.high)
    kind = "base" if row.variant is None else "variant"
    if row.state == "exact":
        thread = element("path", d=f"M{scale.start:.1f} {middle:.1f}H{right:.1f}", class_="bar-thread")
        mark = thread + element("circle", cx=right, cy=middle, r=5.0, class_=f"compared-dot compared-dot--{kind}")
    else:
        width = max(right - left, 4.0)
        mark = element("rect", x=left, y=middle - 6, width=width, height=12.0, rx=2.0, class_="compared-bracket")
    label = text(fit(row.name, LETTERS), x=LEFT, y=middle - 11, class_="chart-label")
    value = text(_short(row), x=right + 10, y=middle + 4, class_="chart-value")
    return element("g", title(f"{row.name}: {_say(row)}"), label, mark, value)


def _short(row: Row) -> str:
    assert row.high is not None
    return write_plain(row.high) if row.state == "exact" else f"≤ {write_plain(row.high, 2)}"


def _say(row: Row) -> str:
    assert row.low is not None
    assert row.high is not None
    if row.state == "exact":
        return write_plain(row.high, 4)
    return f"between {write_plain(row.low, 4)} and {write_plain(row.high, 4)}, a bracket"
