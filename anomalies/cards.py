"""How much fits on a quick-response card: one face of A6 paper, 105 x 148 mm, held in a gloved hand.

At 8 point with 10 mm margins about 54 characters fit on a line, and 34 lines fit below a heading of two: lines are
1.2 x 8 pt = 3.4 mm high, and a character is about half its height wide. Our own choice, no source; the count is by
characters, so print and look.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from anomalies.steps import NoticeKind, Step, measure_depth, number_steps

CARD_LINES = 34
CARD_COLUMNS = 54
INDENT = 2


def count_card_lines(steps: Sequence[Step]) -> int:
    """Return how many lines of a card the steps take, with their warnings and readings."""
    numbers = number_steps(steps)
    return sum(len(write_card_step(step, numbers[step.key])) for step in steps)


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
