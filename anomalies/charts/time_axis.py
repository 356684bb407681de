"""Time along the bottom of a chart: round moments in UTC, and the mission clock under them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime

from anomalies.mission_clock import write_mission_time
from config.kit.markup import element, text
from config.kit.plots import Scale

LETTER = 6.1
"""How wide a letter of a tick is, in the wider of the two rows."""
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
    moments = [datetime.fromtimestamp(tick, UTC) for tick in ticks]
    parts = [element("path", d=f"M{scale(tick):.1f} {top:.1f}V{base:.1f}", class_="chart-grid") for tick in ticks]
    utc = [(scale(tick), write_tick(at, step)) for tick, at in zip(ticks, moments, strict=True)]
    parts += _write_row(utc, scale.stop, base + 15, "chart-tick")
    if epoch is not None:
        clock = [(scale(tick), write_clock_tick(at, step, epoch)) for tick, at in zip(ticks, moments, strict=True)]
        parts += _write_row(clock, scale.stop, base + 29, "chart-clock")
    parts.append(element("path", d=f"M{scale.start:.1f} {base:.1f}H{scale.stop:.1f}", class_="chart-axis"))
    name = _name(scale) + ("; below it the mission clock" if epoch is not None else "")
    foot = base + (46 if epoch is not None else 32)
    parts.append(text(name, x=(scale.start + scale.stop) / 2, y=foot, text_anchor="middle", class_="chart-name"))
    return "".join(parts)


def _write_row(words: Sequence[tuple[float, str]], stop: float, y: float, class_: str) -> list[str]:
    """Write words under their ticks, inside the picture; one that would touch the one before is left out."""
    parts, free_from = [], 0.0
    for place, word in words:
        half = len(word) * LETTER / 2
        anchor, left = ("end", place - 2 * half) if place + half > stop + 8 else ("middle", place - half)
        if left < free_from:
            continue
        free_from = left + 2 * half + 2
        parts.append(text(word, x=place, y=y, text_anchor=anchor, class_=class_))
    return parts


def _name(scale: Scale) -> str:
    first, last = (datetime.fromtimestamp(second, UTC).date() for second in (scale.low, scale.high))
    return f"UTC, {first}" if first == last else f"UTC, {first} to {last}"


def as_seconds(moments: Sequence[datetime]) -> list[float]:
    """Return moments as seconds since 1970 UTC."""
    return [at.timestamp() for at in moments]
