"""The top event over time: its probability Q(t) and its frequency w(t)."""

from __future__ import annotations

from collections.abc import Sequence

from config.kit.figures import write_plain
from config.kit.markup import element
from config.kit.plots import Scale, bottom_axis, left_axis, polyline, svg

WIDTH, HEIGHT = 560.0, 280.0
LEFT, RIGHT, TOP, BASE = 82.0, 18.0, 28.0, 236.0


def draw_curve(times: Sequence[float], values: Sequence[float], name: str, series: int) -> str:
    """Return a curve over time in hours; empty for fewer than two points."""
    if len(times) < 2 or times[-1] <= times[0]:
        return ""
    x = Scale(times[0], times[-1], LEFT, WIDTH - RIGHT)
    y = _value_scale(values)
    xs, ys = [x(t) for t in times], [y(max(v, y.low) if y.is_log else v) for v in values]
    line = polyline(xs, ys)
    parts = [
        left_axis(y, LEFT, WIDTH - RIGHT, name),
        bottom_axis(x, TOP, BASE, "Time, h", lambda value: f"{value:g}"),
    ]
    if not y.is_log and y.low <= 0.0:
        area = f"{line}L{xs[-1]:.1f} {y(0.0):.1f}L{xs[0]:.1f} {y(0.0):.1f}Z"
        parts.append(element("path", d=area, class_=f"curve-area curve-area--{series}"))
    parts.append(element("path", d=line, class_=f"curve curve--{series}"))
    if len(times) <= 40:
        parts += [_point(px, py, t, v, series) for px, py, t, v in zip(xs, ys, times, values, strict=True)]
    label = f"{name} from {write_plain(values[0])} at {times[0]:g} h to {write_plain(values[-1])} at {times[-1]:g} h."
    return svg(WIDTH, HEIGHT, label, *parts)


def _value_scale(values: Sequence[float]) -> Scale:
    low, high = min(values), max(values)
    if high <= 0.0:
        return Scale(0.0, 1.0, BASE, TOP)
    start = 0.0 if low < 0.6 * high else low - (high - low) * 0.5
    if high - start <= high * 1e-9:
        start = 0.0
    return Scale(max(start, 0.0), high * 1.04 if start == 0.0 else high + (high - low) * 0.2, BASE, TOP)


def _point(x: float, y: float, time: float, value: float, series: int) -> str:
    words = f"{time:g} h: {write_plain(value, 5)}"
    return element(
        "g", element("title", words), element("circle", cx=x, cy=y, r=3.0, class_=f"curve-point curve-point--{series}")
    )
