"""A drawing as a file of its own: its style inside, fixed colours, no links, nothing that is fetched."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

from config.kit.colours import fix_colours
from config.kit.markup import element, text, title
from faulttree.drawing.svg import MARGIN, Drawing, class_of, draw_content
from faulttree.drawing.wrapping import wrap

DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>\n'
LEAST_WIDTH = 640.0
LINE = 17.0
LETTER = 6.6
"""Width of a letter of the caption, on the safe side."""


@cache
def paper_style() -> str:
    """Return the style of a drawing on paper."""
    return fix_colours(Path(__file__).with_name("paper.css").read_text(encoding="utf-8"))


def draw_on_paper(drawing: Drawing, *, name: str, points: float) -> str:
    """Return the drawing for a page of a report; `points` is how many of them one unit of the drawing takes."""
    width, height = drawing.plan.width + 2 * MARGIN, drawing.plan.height + 2 * MARGIN
    return element(
        "svg",
        title(name),
        element("style", paper_style()),
        draw_content(drawing),
        xmlns="http://www.w3.org/2000/svg",
        class_=class_of(drawing),
        viewBox=f"{-MARGIN:g} {-MARGIN:g} {width:.1f} {height:.1f}",
        width=f"{width * points:.1f}pt",
        height=f"{height * points:.1f}pt",
    )


def draw_alone(drawing: Drawing, *, name: str, facts: Sequence[str], caution: str) -> bytes:
    """Return the file: the drawing, and under it what it shows, each fact a line, and the caution."""
    width = max(drawing.plan.width, LEAST_WIDTH) + 2 * MARGIN
    room = int((width - 2 * MARGIN) / LETTER)
    rows = [(line, "ft-caption--first" if not number else "") for number, line in enumerate(facts)]
    rows += [(caution, "ft-caption--caution")]
    lines = [(part, kind) for words, kind in rows for part in wrap(words, room, 20)]
    below = drawing.plan.height + MARGIN + LINE
    height = below + LINE * len(lines) + 2 * MARGIN
    left = (min(drawing.plan.width, LEAST_WIDTH) - LEAST_WIDTH) / 2  # a narrow drawing stands in the middle
    caption = "".join(
        text(words, x=left, y=below + LINE * number, class_=f"ft-caption {kind}".strip())
        for number, (words, kind) in enumerate(lines)
    )
    svg = element(
        "svg",
        title(name),
        element("style", paper_style()),
        element("rect", x=left - MARGIN, y=-MARGIN, width=width, height=height, class_="ft-ground"),
        draw_content(drawing),
        caption,
        xmlns="http://www.w3.org/2000/svg",
        class_=class_of(drawing),
        viewBox=f"{left - MARGIN:g} {-MARGIN:g} {width:.1f} {height:.1f}",
        width=width,
        height=height,
        role="img",
    )
    return (DECLARATION + svg + "\n").encode()
