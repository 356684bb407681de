"""What the charts of trends share: two sizes, marks that lead to records, periods along the bottom."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from config.kit.figures import group_digits, write_tick
from config.kit.markup import element, text, title
from config.kit.plots import Scale, svg

LETTER = 6.3
"""How wide a letter of a tick is, on average."""
MOST_PERIODS = 40
"""Of more periods the chart shows the latest; the table under it holds all."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large a chart is drawn. Text doesn't shrink with the picture, so a phone gets a picture of its own."""

    width: float
    height: float
    left: float
    class_: str

    @property
    def right(self) -> float:
        """Where the plotting area ends."""
        return self.width - 12.0


WIDE = Size(900.0, 250.0, 54.0, "chart trend trend--wide")
NARROW = Size(340.0, 240.0, 46.0, "chart trend trend--narrow")
TOP, FOOT = 26.0, 40.0


def draw_both(draw: Callable[[Size], str]) -> str:
    """Return the chart in both sizes; the style sheet shows one of them."""
    return draw(WIDE) + draw(NARROW)


def frame(size: Size, height: float, label: str, *content: str) -> str:
    """Return a picture whose marks can be links, so it's a group to those who can't see it."""
    return svg(size.width, height, label, *content, class_=size.class_, role="group")


def lead(url: str, words: str, *content: str) -> str:
    """Return marks with a tooltip that lead to their records; without an address they lead nowhere."""
    if not url:
        return element("g", title(words), *content)
    return element("a", title(words), *content, href=url, aria_label=words)


def value_scale(highest: float, base: float, top: float = TOP) -> Scale:
    """Return a scale from 0 to a little above the highest value."""
    return Scale(0.0, highest * 1.08 if highest > 0.0 else 1.0, base, top)


def place_bands(count: int, size: Size, left: float | None = None) -> tuple[list[float], float]:
    """Return the middles of so many equal bands, and how wide one is."""
    start = size.left if left is None else left
    width = (size.right - start) / max(count, 1)
    return [start + width * (n + 0.5) for n in range(count)], width


def draw_periods(labels: Sequence[str], middles: Sequence[float], base: float, name: str, size: Size) -> str:
    """Return the axis of periods; a label that would touch the one before, or leave the picture, is left out."""
    parts = [element("path", d=f"M{size.left:.1f} {base:.1f}H{size.right:.1f}", class_="chart-axis")]
    free_from = 0.0
    for label, x in zip(labels, middles, strict=True):
        words = label if len(label) <= 16 else f"{label[:15].rstrip()}…"
        half = len(words) * LETTER / 2
        if x - half < free_from or x + half > size.width:
            continue
        free_from = x + half + 6.0
        parts.append(text(words, x=x, y=base + 15, text_anchor="middle", class_="chart-tick"))
    parts.append(text(name, x=(size.left + size.right) / 2, y=base + 33, text_anchor="middle", class_="chart-name"))
    return "".join(parts)


def count_words(count: int) -> str:
    """Return how many anomalies."""
    return f"{group_digits(count)} anomal{'y' if count == 1 else 'ies'}"


def amount_words(exposure: float, unit: str) -> str:
    """Return how much exposure."""
    amount = write_tick(round(exposure, 3))
    return f"{amount} {unit}{'' if amount == '1' else 's'}"
