"""The control chart: a point for each period, the centre line, and the limits of each period's exposure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from anomalies.charts.trend_frame import (
    FOOT,
    MOST_PERIODS,
    Size,
    draw_periods,
    frame,
    lead,
    place_bands,
    value_scale,
)
from anomalies.charts.trend_rates import describe
from anomalies.reads.trends.control import Charted, Control
from anomalies.reads.trends.periods import Row
from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, left_axis, polyline


def draw_control(control: Control, unit: str, period: str, find: Callable[[Row], str], size: Size) -> str:
    """Return the chart; a point beyond a rule is ringed and bears the rule's number."""
    assert control.chart is not None
    shown = control.points[-MOST_PERIODS:]
    base, centre = size.height - FOOT, control.chart.centre
    highest = max(max(each.point.rate, each.point.high, centre) for each in shown)
    scale = value_scale(highest, base)
    middles, width = place_bands(len(shown), size)
    parts = [
        left_axis(scale, size.left, size.right, f"Anomalies per {unit}"),
        element("path", d=f"M{size.left:.1f} {scale(centre):.1f}H{size.right:.1f}", class_="trend__centre"),
        _draw_limit([each.point.high for each in shown], middles, width, scale),
        _draw_limit([each.point.low for each in shown], middles, width, scale),
        element("path", d=polyline(middles, [scale(each.point.rate) for each in shown]), class_="trend__steps"),
        *(_draw_point(each, x, scale, unit, find(each.row)) for each, x in zip(shown, middles, strict=True)),
        draw_periods([each.row.label for each in shown], middles, base, period.capitalize(), size),
    ]
    beyond = len(control.signals)
    said = f"Control chart of anomalies per {unit}, by {period}: {beyond or 'no'} point{'' if beyond == 1 else 's'}"
    return frame(size, size.height, f"{said} beyond a rule", *parts)


def _draw_limit(values: Sequence[float], middles: Sequence[float], width: float, scale: Scale) -> str:
    xs = [edge for x in middles for edge in (x - width / 2, x + width / 2)]
    ys = [scale(value) for value in values for _ in range(2)]
    return element("path", d=polyline(xs, ys), class_="trend__limit")


def _draw_point(each: Charted, x: float, scale: Scale, unit: str, url: str) -> str:
    point, y = each.point, scale(each.point.rate)
    words = f"{describe(each.row, unit)}; limits {write_plain(point.low)} to {write_plain(point.high)}"
    marks = [element("circle", cx=x, cy=y, r=4.0, class_="trend__point")]
    if each.rule:
        words = f"{words}. {each.rule}"
        number = each.rule.partition(",")[0].removeprefix("Rule ")
        marks.append(element("circle", cx=x, cy=y, r=8.0, class_="trend__beyond"))
        marks.append(text(number, x=x + 11, y=y - 7, class_="trend__rule"))
    return lead(url if each.row.count else "", words, *marks)
