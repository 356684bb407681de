"""What a drawing may say of its elements beside their kind: a tint for a value, a mark for a change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

STEPS = 5

Change = Literal["new", "changed"]
CHANGE_WORDS: dict[Change, str] = {"new": "New in this revision.", "changed": "Changed in this revision."}


@dataclass(frozen=True, slots=True)
class Shade:
    """A tint: `step` from 1, the lightest on paper, to STEPS; `words` say the value it stands for."""

    step: int
    words: str
