"""The probability ruler: where the answer lies between impossible and certain, on a scale of powers of ten."""

from __future__ import annotations

import math
from typing import Any

from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, svg

WIDTH, HEIGHT = 360.0, 84.0
EDGE = 14.0
LINE = 46.0


def draw_ruler(data: dict[str, Any]) -> str:
    """Return the ruler of an answer; empty when nothing on it is above zero."""
    marks = _marks(data)
    values = [value for _, value, _ in marks if value > 0.0]
    if not values:
        return ""
    low = 10.0 ** (math.floor(math.log10(min(values))) - 1)
    high = max(1.0, 10.0 ** math.ceil(math.log10(max(values))))
    scale = Scale(low, high, EDGE, WIDTH - EDGE, is_log=True)
    parts = [_ticks(scale), _spread(scale, data)]
    if data["method"] == "bracket":
        parts.append(_bracket(scale, data))
    parts += [_mark(scale, name, value, kind) for name, value, kind in marks if value > 0.0]
    words = ", ".join(f"{name} {write_plain(value, 4)}" for name, value, _ in marks)
    return svg(WIDTH, HEIGHT, f"Scale of probability: {words}.", *parts, class_="chart ruler")


def _marks(data: dict[str, Any]) -> list[tuple[str, float, str]]:
    named = (
        ("exact", data.get("probability"), "main"),
        ("rare-event sum", data.get("rare_event"), "rare"),
        ("min-cut upper bound", data.get("min_cut_upper_bound"), "bound"),
        ("lower end", data.get("lower"), "end"),
        ("upper end", data.get("upper"), "end"),
    )
    return [(name, value, kind) for name, value, kind in named if value is not None]


def _ticks(scale: Scale) -> str:
    parts = [element("path", d=f"M{scale.start:.1f} {LINE}H{scale.stop:.1f}", class_="chart-axis")]
    first, last = round(math.log10(scale.low)), round(math.log10(scale.high))
    every = math.ceil((last - first) / 6)
    for power in range(first, last + 1):
        x = scale(10.0**power)
        is_named = (last - power) % every == 0
        parts.append(element("path", d=f"M{x:.1f} {LINE}v{9 if is_named else 6}", class_="chart-axis"))
        if is_named:
            words = "1" if power == 0 else write_plain(10.0**power, 1).removeprefix("1×")
            parts.append(
                text(
                    "10⁻¹" if power == -1 else "10⁻²" if power == -2 else words,
                    x=x,
                    y=LINE + 23,
                    text_anchor="middle",
                    class_="chart-tick",
                )
            )
        if last - first <= 8 and power < last:
            for factor in range(2, 10):
                minor = scale(factor * 10.0**power)
                parts.append(element("path", d=f"M{minor:.1f} {LINE}v3", class_="chart-axis"))
    return "".join(parts)


def _spread(scale: Scale, data: dict[str, Any]) -> str:
    spread = data.get("uncertainty")
    if not spread or spread["p05"] < scale.low:
        return ""
    left, right = scale(spread["p05"]), scale(min(spread["p95"], scale.high))
    return element("rect", x=left, y=LINE - 9, width=max(right - left, 1.0), height=6.0, class_="ruler-spread")


def _bracket(scale: Scale, data: dict[str, Any]) -> str:
    left, right = scale(max(data["lower"], scale.low)), scale(max(data["upper"], scale.low))
    return element("rect", x=left, y=LINE - 22, width=max(right - left, 2.0), height=22.0, class_="ruler-bracket")


def _mark(scale: Scale, name: str, value: float, kind: str) -> str:
    x = scale(min(max(value, scale.low), scale.high))
    heights = {"main": 30.0, "end": 22.0, "rare": 15.0, "bound": 15.0}
    tip = ""
    if kind == "main":
        y = LINE - 30
        tip = element(
            "polygon", points=f"{x:.1f},{y + 8:.1f} {x - 5:.1f},{y:.1f} {x + 5:.1f},{y:.1f}", class_="ruler-tip"
        )
    line = element("path", d=f"M{x:.1f} {LINE}v{-heights[kind]}", class_=f"ruler-mark ruler-mark--{kind}")
    return element("g", element("title", f"{name}: {write_plain(value, 5)}"), line, tip)
