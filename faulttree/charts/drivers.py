"""What drives the uncertainty, as bars: rank correlation from -1 to 1, with its interval."""

from __future__ import annotations

import math

from config.kit.figures import MINUS, write_tick
from config.kit.markup import element, text, title
from config.kit.plots import Scale, bottom_axis, svg
from faulttree.drawing.wrapping import fit
from faulttree.reads.drivers import DriverRow

WIDTH, LEFT, RIGHT = 560.0, 190.0, 60.0
ROW, TOP, FOOT = 24.0, 6.0, 40.0
MOST = 12


def draw_drivers(rows: tuple[DriverRow, ...]) -> str:
    """Return a chart of the first rows that have a correlation; empty when none has."""
    points = [(row, row.rank_correlation) for row in rows if row.rank_correlation is not None][:MOST]
    if not points:
        return ""
    base = TOP + ROW * len(points)
    least = min(row.rank_interval[0] if row.rank_interval else value for row, value in points)
    low = -min(math.ceil(max(-least, 0.0) * 4.0) / 4.0, 1.0)
    scale = Scale(low, 1.0, LEFT, WIDTH - RIGHT)
    parts = [bottom_axis(scale, TOP, base, "Spearman rank correlation with the top event", write_tick)]
    parts += [_bar(scale, row, value, TOP + ROW * (n + 0.5)) for n, (row, value) in enumerate(points)]
    first, strongest = points[0]
    label = f"Rank correlation of the {len(points)} strongest uncertain sources with the top-event probability; "
    label += f"first {first.label or first.name}, {_write(strongest)}."
    return svg(WIDTH, base + FOOT, label, *parts)


def _bar(scale: Scale, row: DriverRow, value: float, middle: float) -> str:
    left, right = sorted((scale(0.0), scale(value)))
    name = row.label or row.name
    words = f"{name}{', ' if row.detail else ''}{row.detail}: {_write(value)}"
    parts = [
        text(fit(name, 26), x=LEFT - 10, y=middle + 4, text_anchor="end", class_="chart-label"),
        element("rect", x=left, y=middle - 6, width=max(right - left, 1.0), height=12.0, class_="bar"),
    ]
    end = right
    if row.rank_interval:
        low, high = (scale(bound) for bound in row.rank_interval)
        parts.append(element("path", d=f"M{low:.1f} {middle:.1f}H{high:.1f}", class_="chart-mark"))
        end = max(end, high)
        words += f", 95 % interval {_write(row.rank_interval[0])} to {_write(row.rank_interval[1])}"
    parts.append(text(_write(value), x=end + 7, y=middle + 4, class_="chart-value"))
    return element("g", title(words), *parts)


def _write(value: float) -> str:
    """A correlation with three decimals: a smaller one says nothing."""
    return f"{value:.3f}".replace("-", MINUS)
