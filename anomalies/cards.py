"""How much fits on a quick-response card: one face of A6 paper, 105 x 148 mm, held in a gloved hand.

In a typewriter face of 8 point, whose characters are 0.6 as wide as they are high, 50 stand on a line between margins
of 9 mm. Lines are 1.2 x 8 pt = 3.4 mm high, so that 34 fit below a heading of two and the line that an unreleased card
bears. Our own choice, no source. card.css sets a card just so, and a test in a browser prints full ones.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from anomalies.steps import NoticeKind, Step, measure_depth, number_steps

CARD_LINES = 34
CARD_COLUMNS = 50
HEAD_LINES = 2
INDENT = 2


def count_card_lines(steps: Sequence[Step], heading: str = "") -> int:
    """Return how many lines of a card the steps take, with their warnings and readings.

    A heading that takes more than HEAD_LINES takes the rest from the steps.
    """
    numbers = number_steps(steps)
    over = max(len(textwrap.wrap(heading, CARD_COLUMNS)) - HEAD_LINES, 0)
    return over + sum(len(write_card_step(step, numbers[step.key])) for step in steps)


def write_heading(number: str, revision: int, title: str) -> str:
    """Return the heading of a card."""
    return f"{number} rev {revision} {title}"


def write_card_step(step: Step, number: str) -> list[str]:
    """Return the lines of one step: what warns of it, the step, what is to be read."""
    indent = " " * INDENT * (measure_depth(number) - 1)
    parts = [f"{NoticeKind(notice.kind).label.upper()}: {notice.text}" for notice in step.notices]
    parts.append(f"{number} {step.text}")
    if step.reading:
        parts.append(f"> {step.reading}")
    return [
        line
        for part in parts
        for text in part.splitlines()
        for line in textwrap.wrap(text, CARD_COLUMNS, initial_indent=indent, subsequent_indent=indent)
    ]
