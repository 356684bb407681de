"""How what is believed of an event moved: bars in a table, and its way from one piece of evidence to the next."""

from __future__ import annotations

from collections.abc import Sequence

from config.kit.figures import write_share
from config.kit.markup import element, text, title
from config.kit.plots import polyline, svg
from faulttree.facade import Posterior

BAR_WIDTH, BAR_HEIGHT = 120.0, 14.0
WIDTH, LEFT, RIGHT = 560.0, 170.0, 62.0
ROW, GAP, FOOT = 40.0, 14.0, 44.0
MOST_EVENTS = 6
MOST_LABELS = 12


def draw_belief(given_top: float, posterior: float | None) -> str:
    """Return a bar up to the posterior, with a mark at the probability given the top event alone."""
    now = given_top if posterior is None else posterior
    label = f"{write_share(now)} now; {write_share(given_top)} given the top event alone."
    return svg(
        BAR_WIDTH,
        BAR_HEIGHT,
        label,
        title(label),
        element("rect", x=0.0, y=3.0, width=BAR_WIDTH, height=8.0, class_="belief__room"),
        element("rect", x=0.0, y=3.0, width=max(now * BAR_WIDTH, 0.5), height=8.0, class_="belief__now"),
        element(
            "rect", x=min(given_top * BAR_WIDTH, BAR_WIDTH - 2), y=0.0, width=2.0, height=14.0, class_="belief__was"
        ),
        class_="belief",
    )


def draw_way(posterior: Posterior, names: Sequence[str], labels: dict[str, str]) -> str:
    """Return the way of the first few events over the pieces of evidence; empty before the first piece."""
    shown, steps = list(names)[:MOST_EVENTS], posterior.steps
    if len(steps) < 2 or not shown:
        return ""
    base = (ROW + GAP) * len(shown)
    width = WIDTH - LEFT - RIGHT
    xs = [LEFT + width * n / (len(steps) - 1) for n in range(len(steps))]
    parts = [
        _draw_event(name, labels.get(name, name), posterior, xs, (ROW + GAP) * n + GAP) for n, name in enumerate(shown)
    ]
    every = -(-len(steps) // MOST_LABELS)
    for n in range(0, len(steps), every):
        words = steps[n].key.removeprefix("= ") or "top"
        parts.append(text(words[:14], x=xs[n], y=base + 24, text_anchor="middle", class_="chart-tick"))
    parts.append(
        text(
            "Evidence, in the order in which it came in",
            x=(LEFT + WIDTH - RIGHT) / 2,
            y=base + 40,
            text_anchor="middle",
            class_="chart-name",
        )
    )
    first, last = steps[0].posterior, steps[-1].posterior
    said = "; ".join(f"{labels.get(n, n)} from {write_share(first[n])} to {write_share(last[n])}" for n in shown)
    return svg(WIDTH, base + FOOT, f"How the posterior moved: {said}.", *parts)


def _draw_event(name: str, label: str, posterior: Posterior, xs: list[float], top: float) -> str:
    """One event: its name, a band from 0 to 1, the line, the last value."""
    values = [step.posterior[name] for step in posterior.steps]
    base = top + ROW
    ys = [base - value * ROW for value in values]
    points = [
        element(
            "g",
            title(f"{step.key.removeprefix('= ') or 'the top event alone'}: {write_share(value)}"),
            element("circle", cx=x, cy=y, r=3.0, class_="belief__point"),
        )
        for step, value, x, y in zip(posterior.steps, values, xs, ys, strict=True)
    ]
    short = label if len(label) <= 27 else f"{label[:26]}…"
    return element(
        "g",
        element("path", d=f"M{xs[0]:.1f} {top:.1f}H{xs[-1]:.1f}", class_="chart-grid"),
        element("path", d=f"M{xs[0]:.1f} {base:.1f}H{xs[-1]:.1f}", class_="chart-axis"),
        text(short, x=0.0, y=top + ROW / 2 + 4, class_="chart-label"),
        element("path", d=polyline(xs, ys), class_="belief__line"),
        *points,
        text(write_share(values[-1]), x=xs[-1] + 10, y=ys[-1] + 4, class_="chart-value"),
    )
