"""Prior, what was seen, and posterior of a parameter, over one axis of powers of ten."""

from __future__ import annotations

from config.kit.figures import write_plain
from config.kit.markup import element, text
from config.kit.plots import Scale, bottom_axis, polyline, svg
from faulttree.engine.learning.update import Updated, trace

WIDTH, HEIGHT = 560.0, 250.0
LEFT, RIGHT, TOP, BASE = 12.0, 12.0, 40.0, 208.0
KINDS = (("prior", "Prior"), ("likelihood", "What was seen"), ("posterior", "Posterior"))


def draw_update(updated: Updated, name: str) -> str:
    """Return the three curves, each drawn to the same height; an improper prior has none."""
    curves = trace(updated)
    x = Scale(float(curves.x[0]), float(curves.x[-1]), LEFT, WIDTH - RIGHT, is_log=True)
    y = Scale(0.0, 1.05, BASE, TOP)
    xs = [x(float(value)) for value in curves.x]
    parts = [bottom_axis(x, TOP, BASE, name)]
    for place, (kind, words) in enumerate(KINDS):
        values = getattr(curves, kind)
        if values is None:
            continue
        parts.append(element("path", d=polyline(xs, [y(float(v)) for v in values]), class_=f"update update--{kind}"))
        left = LEFT + 150.0 * place
        parts.append(element("path", d=f"M{left} 18H{left + 26}", class_=f"update update--{kind}"))
        parts.append(text(words, x=left + 32, y=22, class_="chart-label"))
    label = (
        f"Posterior of {name}: mean {write_plain(updated.mean)}, 90 % from {write_plain(updated.p05)} to "
        f"{write_plain(updated.p95)}. Curves are densities over the logarithm, each scaled to its own peak."
    )
    return svg(WIDTH, HEIGHT, label, *parts)
