"""A telemetry series over time: the line, its limits, the spans out of them, and entries of the timeline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from string import ascii_lowercase

from anomalies.charts.time_axis import as_seconds, draw_time_axis
from anomalies.telemetry import Sample, Span
from config.kit.figures import MINUS
from config.kit.markup import element, text, title
from config.kit.plots import Scale, left_axis, polyline, svg

APART = 12.0
"""Numbers, letters and dots need so much room: one too near to the one before is left out, its band or line is not."""

DOT = 3.5
LETTER = 6.8
"""How wide a letter of the name is, on average."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a chart is drawn. Text doesn't shrink with the picture, so a phone gets a picture of its own."""

    width: float
    height: float
    left: float
    ticks: int
    class_: str


WIDE = Size(940.0, 300.0, 58.0, 9, "chart telemetry telemetry--wide")
NARROW = Size(340.0, 270.0, 46.0, 5, "chart telemetry telemetry--narrow")
LOW_WIDE = Size(940.0, 200.0, 58.0, 9, "chart telemetry telemetry--wide")
LOW_NARROW = Size(340.0, 200.0, 46.0, 5, "chart telemetry telemetry--narrow")


@dataclass(frozen=True, slots=True)
class Mark:
    """An entry of the timeline: its letter, moment and words."""

    letter: str
    at: datetime
    words: str


@dataclass(frozen=True, slots=True)
class Strip:
    """All that a chart shows; `spans` are those of the whole series, `samples` may be thinned."""

    name: str
    unit: str
    samples: Sequence[Sample]
    low: float | None
    high: float | None
    spans: Sequence[Span]
    marks: Sequence[Mark]
    epoch: datetime | None
    spans_in_all: int

    @property
    def limits(self) -> list[tuple[str, float]]:
        """Those that are given, with their names."""
        return [(side, limit) for side, limit in (("low", self.low), ("high", self.high)) if limit is not None]


def draw_telemetry(strip: Strip, size: Size) -> str:
    """Return the chart."""
    top, base = 36.0, size.height - (52.0 if strip.epoch is not None else 38.0)
    x, y = _time_scale(strip, size), _value_scale(strip, base, top)
    xs = [x(second) for second in as_seconds([sample.at for sample in strip.samples])]
    ys = [y(sample.value) for sample in strip.samples]
    parts = [
        *_draw_spans(strip.spans, x, top, base),
        left_axis(y, size.left, x.stop, _name_chart(strip, size), write_value),
        draw_time_axis(x, top, base, size.ticks, strip.epoch),
        *(_draw_limit(side, limit, x, y) for side, limit in strip.limits),
        *_draw_marks(strip.marks, x, top, base),
        element("path", d=polyline(xs, ys), class_="telemetry-line"),
        *_draw_extremes(strip, x, y),
    ]
    if len(strip.samples) == 1:
        parts.append(element("circle", cx=xs[0], cy=ys[0], r=3.0, class_="telemetry-point"))
    return svg(size.width, size.height, describe_strip(strip), *parts, class_=size.class_)


def describe_strip(strip: Strip) -> str:
    """Return the chart in words."""
    values = [sample.value for sample in strip.samples]
    first, last = (f"{strip.samples[place].at:%Y-%m-%d %H:%M:%S}" for place in (0, -1))
    words = f"{strip.name} from {first} to {last} UTC: {write_value(min(values))} to {write_value(max(values))} "
    words += f"{strip.unit}. "
    if not strip.limits:
        return words + "No limits are given."
    count = strip.spans_in_all
    found = "Never" if not count else "Once" if count == 1 else f"{count:,} times"
    limits = ", ".join(f"{side} {write_value(limit)}" for side, limit in strip.limits)
    return f"{words}{found} out of limits ({limits} {strip.unit})."


def _name_chart(strip: Strip, size: Size) -> str:
    """Quantity and unit, the former cut off where the picture ends."""
    room = int(size.width / LETTER) - len(strip.unit) - 2
    name = strip.name if len(strip.name) <= room else f"{strip.name[: max(room - 1, 0)].rstrip()}…"
    return f"{name}, {strip.unit}"


def write_value(value: float) -> str:
    """Return a measured value, six digits at most."""
    return f"{value:.6g}".replace("-", MINUS)


def make_letter(number: int) -> str:
    """Return a for 0, z for 25, aa for 26."""
    letters = ""
    while number >= 0:
        number, rest = divmod(number, 26)
        letters = ascii_lowercase[rest] + letters
        number -= 1
    return letters


def _time_scale(strip: Strip, size: Size) -> Scale:
    low, high = as_seconds([strip.samples[0].at, strip.samples[-1].at])
    if high <= low:
        low, high = low - 30.0, high + 30.0
    return Scale(low, high, size.left, size.width - 10.0)


def _value_scale(strip: Strip, base: float, top: float) -> Scale:
    values = [sample.value for sample in strip.samples]
    values += [limit for limit in (strip.low, strip.high) if limit is not None]
    low, high = min(values), max(values)
    is_flat = high - low <= max(abs(low), abs(high)) * 1e-12 + 1e-200
    room = max(abs(high) * 0.05, 1.0) if is_flat else (high - low) * 0.07
    return Scale(low - room, high + room, base, top)


def _draw_spans(spans: Sequence[Span], x: Scale, top: float, base: float) -> list[str]:
    """Bands with their numbers; of spans that fall into the same pixel one band is drawn."""
    parts, free_from, drawn_to = [], 0.0, 0.0
    for number, span in enumerate(spans, 1):
        left, right = (x(second) for second in as_seconds([span.start, span.end]))
        width = max(right - left, 3.0)
        left = min(left, x.stop - width)
        if left + width <= drawn_to + 1.0:
            continue
        drawn_to = left + width
        parts.append(element("rect", x=left, y=top, width=width, height=base - top, class_="telemetry-span"))
        middle = left + width / 2
        if middle >= free_from:
            parts.append(text(str(number), x=middle, y=top + 12, text_anchor="middle", class_="telemetry-number"))
            free_from = middle + APART + 7.0 * len(str(number))
    return parts


def _draw_limit(side: str, limit: float, x: Scale, y: Scale) -> str:
    at = y(limit)
    line = element("path", d=f"M{x.start:.1f} {at:.1f}H{x.stop:.1f}", class_="telemetry-limit")
    below = side == "low"
    words = text(
        f"{side} {write_value(limit)}",
        x=x.stop - 4,
        y=at + (13 if below else -5),
        text_anchor="end",
        class_="telemetry-limit-name",
    )
    return line + words


def _draw_extremes(strip: Strip, x: Scale, y: Scale) -> list[str]:
    """A dot on the value furthest out of each span; one that would touch the one before is left out."""
    parts, last = [], (0.0, 0.0)
    for span in strip.spans:
        place = (x(span.at.timestamp()), y(span.extreme))
        if abs(place[0] - last[0]) + abs(place[1] - last[1]) < APART:
            continue
        last = place
        words = title(f"{write_value(span.extreme)} {strip.unit} at {span.at:%Y-%m-%d %H:%M:%S} UTC")
        dot = element("circle", cx=place[0], cy=place[1], r=DOT, class_="telemetry-extreme")
        parts.append(element("g", words, dot))
    return parts


def _draw_marks(marks: Sequence[Mark], x: Scale, top: float, base: float) -> list[str]:
    parts, free_from = [], 0.0
    for mark in marks:
        place = x(mark.at.timestamp())
        line = element("path", d=f"M{place:.1f} {top - 6:.1f}V{base:.1f}", class_="telemetry-mark")
        letter = ""
        if place >= free_from:
            letter = text(mark.letter, x=place, y=top - 9, text_anchor="middle", class_="telemetry-letter")
            free_from = place + APART + 3.0
        parts.append(element("g", title(f"{mark.letter}: {mark.words}"), line, letter))
    return parts
