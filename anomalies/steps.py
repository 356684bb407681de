"""The steps of a procedure as plain values: what a revision stores, and what is edited, compared and printed.

Steps are a tuple in the order in which they are read. Each has a key that it keeps through all revisions, and names
its parent by key ("" at the top), so that its number, like 3.2.1, follows from where it stands. Warnings and cautions
belong to the step they protect and are read before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, TypeAlias

from django.db.models import TextChoices


class StepKind(TextChoices):
    """What a step asks for."""

    GROUP = "group", "Group of steps"
    DO = "do", "Do"
    CHECK = "check", "Check a reading"
    DECIDE = "decide", "Decide"
    CALL = "call", "Call"


class NoticeKind(TextChoices):
    """What is at stake, the gravest first. That a warning is about people and a caution about hardware is common
    practice, no source."""

    WARNING = "warning", "Warning"
    CAUTION = "caution", "Caution"
    NOTE = "note", "Note"


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to know before a step is done."""

    key: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What an instrument should show: in words, or between limits, both included, in the unit.

    Limits are decimals as they were written ("55.0"), "" where there is none: a printed limit must not lose a digit.
    """

    expected: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""

    def __str__(self) -> str:
        return ", ".join(part for part in (self.expected, self._limits()) if part)

    def _limits(self) -> str:
        if self.low and self.high:
            text = f"{self.low} to {self.high}"
        elif self.low or self.high:
            text = f"at least {self.low}" if self.low else f"at most {self.high}"
        else:
            return ""
        return f"{text} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Step:
    """One step. `reading` is None where nothing is to be read."""

    key: str
    parent: str
    kind: str
    text: str
    reading: Reading | None = None
    notices: tuple[Notice, ...] = ()


Steps: TypeAlias = tuple[Step, ...]


def load_steps(stored: Iterable[Mapping[str, Any]]) -> Steps:
    """Return the steps that `store_steps` wrote."""
    return tuple(
        Step(
            key=step["key"],
            parent=step["parent"],
            kind=step["kind"],
            text=step["text"],
            reading=Reading(**step["reading"]) if step["reading"] else None,
            notices=tuple(Notice(**notice) for notice in step["notices"]),
        )
        for step in stored
    )


def store_steps(steps: Steps) -> list[dict[str, Any]]:
    """Return the steps as JSON can hold them; only text, so that no database writes a number in another way."""
    return [asdict(step) | {"notices": [asdict(notice) for notice in step.notices]} for step in steps]


def find_children(steps: Sequence[Step]) -> dict[str, list[str]]:
    """Return parent's key -> keys of its steps, in order; "" is the top. Steps without any aren't in it."""
    children: dict[str, list[str]] = {}
    for step in steps:
        children.setdefault(step.parent, []).append(step.key)
    return children


def number_steps(steps: Sequence[Step]) -> dict[str, str]:
    """Return key -> number, like 3.2.1."""
    numbers: dict[str, str] = {}
    counts: dict[str, int] = {}
    for step in steps:
        counts[step.parent] = counts.get(step.parent, 0) + 1
        above = numbers.get(step.parent)
        numbers[step.key] = f"{above}.{counts[step.parent]}" if above else str(counts[step.parent])
    return numbers


def measure_depth(number: str) -> int:
    """Return how deep a number is nested; 1 at the top."""
    return number.count(".") + 1
