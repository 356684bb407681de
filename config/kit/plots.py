"""What all charts share: the plotting area, linear and logarithmic scales with ticks, axes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from config.kit.figures import write_tick
from config.kit.markup import element, text


@dataclass(frozen=True, slots=True)
class Scale:
    """Maps [low, high] of the data to [start, stop] of the drawing, evenly or by powers of ten."""

    low: float
    high: float
    start: float
    stop: float
    is_log: bool = False

    def __call__(self, value: float) -> float:
        """Return the place of a value."""
        if self.is_log:
            share = math.log10(value / self.low) / math.log10(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.stop - self.start)

    def ticks(self, count: int = 5) -> list[float]:
        """Return round values within the scale."""
        return log_ticks(self.low, self.high, count) if self.is_log else linear_ticks(self.low, self.high, count)


def linear_ticks(low: float, high: float, count: int) -> list[float]:
    """Return about `count` multiples of 1, 2, 2.5 or 5 times a power of ten."""
    rough = (high - low) / max(count, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * power >= rough * 0.999)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


def log_ticks(low: float, high: float, count: int) -> list[float]:
    """Return powers of ten; with 2 and 5 between them where that is not too many."""
    first, last = math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9)
    powers = list(range(first, last + 1))
    step = max(1, math.ceil(len(powers) / max(count, 1)))
    factors = (1.0, 2.0, 5.0) if len(powers) <= 3 else (1.0,)
    values = [factor * 10.0**power for power in powers[::step] for factor in factors]
    return [value for value in values if low * 0.999999 <= value <= high * 1.000001]


def svg(width: float, height: float, label: str, *content: str, class_: str = "chart", role: str = "img") -> str:
    """Return a picture with a name for those who can't see it; one that holds links takes the role of a group."""
    return element(
        "svg",
        *content,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width:g} {height:g}",
        width=width,
        height=height,
        role=role,
        aria_label=label,
        class_=class_,
    )


def bottom_axis(scale: Scale, top: float, base: float, name: str, write: Callable[[float], str] = write_tick) -> str:
    """Return ticks, grid lines and the name of a horizontal axis."""
    parts = []
    for value in scale.ticks():
        x = scale(value)
        parts.append(element("path", d=f"M{x:.1f} {top:.1f}V{base:.1f}", class_="chart-grid"))
        parts.append(text(write(value), x=x, y=base + 15, text_anchor="middle", class_="chart-tick"))
    parts.append(element("path", d=f"M{scale.start:.1f} {base:.1f}H{scale.stop:.1f}", class_="chart-axis"))
    middle = (scale.start + scale.stop) / 2
    parts.append(text(name, x=middle, y=base + 33, text_anchor="middle", class_="chart-name"))
    return "".join(parts)


def left_axis(scale: Scale, left: float, right: float, name: str, write: Callable[[float], str] = write_tick) -> str:
    """Return ticks, grid lines and the name of a vertical axis; the name stands above it, unturned."""
    parts = []
    for value in scale.ticks(4):
        y = scale(value)
        parts.append(element("path", d=f"M{left:.1f} {y:.1f}H{right:.1f}", class_="chart-grid"))
        parts.append(text(write(value), x=left - 7, y=y + 3.5, text_anchor="end", class_="chart-tick"))
    parts.append(text(name, x=0, y=12, class_="chart-name"))
    return "".join(parts)


def polyline(xs: Sequence[float], ys: Sequence[float]) -> str:
    """Return path data through the points."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in zip(xs, ys, strict=True))
