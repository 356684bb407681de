"""Fits words into a box of so many letters."""

from __future__ import annotations

import textwrap


def wrap(words: str, room: int, rows: int) -> list[str]:
    """Return at most `rows` lines of at most `room` letters; what is left out ends in an ellipsis."""
    words = " ".join(words.split())
    lines = textwrap.wrap(words, room, break_long_words=True, break_on_hyphens=True) or [""]
    if len(lines) <= rows:
        return lines
    start = 0
    for line in lines[: rows - 1]:
        start = words.index(line, start) + len(line)
    return [*lines[: rows - 1], fit(words[start:].strip(), room)]


def fit(words: str, room: int) -> str:
    """Return the words, or their start and an ellipsis."""
    room = max(room, 2)
    return words if len(words) <= room else words[: room - 1].rstrip() + "…"
