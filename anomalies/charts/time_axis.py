"""Time along the bottom of a chart: round moments in UTC, and the mission clock under them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime

from anomalies.mission_clock import write_mission_time
from config.kit.markup import element, text
from config.kit.plots import Scale

MINUTE, HOUR, DAY = 60, 3600, 86_400
STEPS = (
    *(1, 2, 5, 10, 15, 30),
    *(MINUTE * count for count in (1, 2, 5, 10, 15, 30)),
    *(HOUR * count for count in (1, 2, 3, 6, 12)),
    *(DAY * count for count in (1, 2, 7, 14, 28, 91, 182, 364)),
)
"""Seconds between ticks."""


def find_ticks(low: float, high: float, most: int) -> tuple[list[float], int]:
    """Return at most `most` round moments (seconds since 1970 UTC) from low to high, and the step between them.

    Both ends if nothing round lies between them.
    """
    years = math.ceil((high - low) / (most - 1) / STEPS[-1])
    step = next((step for step in STEPS if (high - low) / step <= most - 1), STEPS[-1] * years)
    first, last = math.ceil(low / step), math.floor(high / step)
    ticks = [float(number * step) for number in range(first, last + 1)]
    return (ticks, step) if ticks else ([low, high], 1)


def write_tick(at: datetime, step: int) -> str:
    """Return a moment as an axis shows it: month, day at midnight, or time of day."""
    if step >= 28 * DAY:
        return f"{at:%b %Y}"
    if step >= DAY or (at.hour, at.minute, at.second) == (0, 0, 0):
        return f"{at.day} {at:%b}"
    return f"{at:%H:%M}" if step >= MINUTE else f"{at:%H:%M:%S}"


def write_clock_tick(at: datetime, step: int, epoch: datetime) -> str:
    """Return the mission clock as an axis shows it: without T+, and without seconds where they say nothing."""
    clock = write_mission_time(at, epoch).removeprefix("T").removeprefix("+")
    return clock[:-3] if step >= MINUTE else clock


def draw_time_axis(scale: Scale, top: float, base: float, most: int, epoch: datetime | None) -> str:
    """Return grid lines, ticks and the name of the axis; three rows of text, two without a mission clock."""
    ticks, step = find_ticks(scale.low, scale.high, most)
    parts = []
    for tick in ticks:
        x, at = scale(tick), datetime.fromtimestamp(tick, UTC)
        where = {"x": x, "text_anchor": _anchor(x, scale), "class_": "chart-tick"}
        parts.append(element("path", d=f"M{x:.1f} {top:.1f}V{base:.1f}", class_="chart-grid"))
        parts.append(text(write_tick(at, step), y=base + 15, **where))
        if epoch is not None:
            parts.append(text(write_clock_tick(at, step, epoch), y=base + 29, **where | {"class_": "chart-clock"}))
    parts.append(element("path", d=f"M{scale.start:.1f} {base:.1f}H{scale.stop:.1f}", class_="chart-axis"))
    name = _name(scale) + ("; below it the mission clock" if epoch is not None else "")
    foot = base + (46 if epoch is not None else 32)
    parts.append(text(name, x=(scale.start + scale.stop) / 2, y=foot, text_anchor="middle", class_="chart-name"))
    return "".join(parts)


def _anchor(x: float, scale: Scale) -> str:
    """Keep the words of the outermost ticks inside the picture."""
    if x > scale.stop - 24:
        return "end"
    return "start" if x < scale.start + 4 else "middle"


def _name(scale: Scale) -> str:
    first, last = (datetime.fromtimestamp(second, UTC).date() for second in (scale.low, scale.high))
    return f"UTC, {first}" if first == last else f"UTC, {first} to {last}"


def as_seconds(moments: Sequence[datetime]) -> list[float]:
    """Return moments as seconds since 1970 UTC."""
    return [at.timestamp() for at in moments]
