"""Anomalies so far over exposure so far, with what the power law expects."""

from __future__ import annotations

from collections.abc import Callable

from anomalies.charts.trend_frame import FOOT, Size, frame, lead, value_scale
from anomalies.reads.trends.facts import Case
from anomalies.reads.trends.growth import Trend
from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, bottom_axis, left_axis, polyline

MOST_POINTS = 200
"""With more anomalies only the line is drawn."""
MOST_STEPS = 1_000
"""Of more anomalies the line takes so many, evenly chosen: a picture has no more columns of dots."""
STEPS = 80


def draw_growth(trend: Trend, find: Callable[[Case], str], size: Size) -> str:
    """Return the steps of the count, a point for each anomaly, and the fitted curve where there's one."""
    unit = trend.wanted.units
    base, count = size.height - FOOT, len(trend.placed)
    x = Scale(0.0, max(trend.total, trend.placed[-1].at), size.left, size.right)
    y = value_scale(float(count), base)
    xs, ys = [x(0.0)], [y(0.0)]
    for place in _choose_steps(count):
        xs += [x(trend.placed[place].at)] * 2
        ys += [ys[-1], y(place + 1.0)]
    parts = [
        left_axis(y, size.left, size.right, "Anomalies so far"),
        bottom_axis(x, y.stop, base, f"Exposure so far, {unit}"),
    ]
    xs.append(x(trend.record.end if trend.record else trend.total))
    ys.append(y(float(count)))
    if trend.growth is not None:
        parts.append(_draw_curve(trend, x, y))
    parts.append(element("path", d=polyline(xs, ys), class_="trend__steps"))
    if count <= MOST_POINTS:
        parts += [
            lead(
                find(each.case),
                f"{each.case.number}, {each.case.title}: after {write_plain(each.at, 4)} {unit}",
                element("circle", cx=x(each.at), cy=y(float(n)), r=4.0, class_="trend__point"),
            )
            for n, each in enumerate(trend.placed, 1)
        ]
    return frame(size, size.height, f"Anomalies so far over exposure so far, {count} in all", *parts)


def _choose_steps(count: int) -> list[int]:
    """Return the places of the anomalies at which the line climbs: all, or MOST_STEPS with the first and the last."""
    if count <= MOST_STEPS:
        return list(range(count))
    return [round(n * (count - 1) / (MOST_STEPS - 1)) for n in range(MOST_STEPS)]


def _draw_curve(trend: Trend, x: Scale, y: Scale) -> str:
    growth = trend.growth
    assert growth is not None
    places = [growth.record.end * n / STEPS for n in range(STEPS + 1)]
    values = [min(growth.expected(at), y.high) if at > 0.0 else 0.0 for at in places]
    curve = element("path", d=polyline([x(at) for at in places], [y(value) for value in values]), class_="trend__fit")
    middle = STEPS // 2
    place = x(places[middle]) + 6.0, min(y(values[middle]) + 16.0, y.start - 4.0)
    return curve + text("power law", x=place[0], y=place[1], class_="trend__fit-name")
