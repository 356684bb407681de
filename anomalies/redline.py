"""The redline: what a revision of a procedure changes in the steps of the one before, step by step and word by word.

Steps are matched by the keys they keep, never by likeness, so nothing is guessed. A step counts as moved if it stands
under another parent, or if it's one of the fewest steps that must change place among their siblings to explain the new
order. What is only numbered anew because of others isn't moved. The result is plain, and always the same for the same
steps; `old` and `new` can be read off it again, which the tests hold it to.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum
from itertools import groupby

from anomalies.steps import Notice, Reading, Step, find_children, number_steps

WORD = re.compile(r"\s+|\w+(?:[.,:'’-]\w+)*|[^\w\s]")


class Mark(StrEnum):
    """What became of something."""

    SAME = "same"
    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class Span:
    """A run of words: the same in both, added or removed."""

    mark: Mark
    text: str


@dataclass(frozen=True, slots=True)
class FieldChange:
    """A field of a step that has another value; "" where there was, or is, none."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class NoticeLine:
    """What became of a warning, caution or note. `old_kind` and `new_kind` are "" where it wasn't, or isn't, there."""

    key: str
    mark: Mark
    moved: bool
    old_kind: str
    new_kind: str
    words: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """What became of a step. `moved` goes with same or changed; a number is "" where it wasn't, or isn't, there."""

    key: str
    mark: Mark
    moved: bool
    old_number: str
    new_number: str
    kind: str
    words: tuple[Span, ...]
    fields: tuple[FieldChange, ...]
    reading: str
    notices: tuple[NoticeLine, ...]

    @property
    def is_touched(self) -> bool:
        """Not the same, or moved."""
        return self.moved or self.mark != Mark.SAME


@dataclass(frozen=True, slots=True)
class Redline:
    """All steps of both revisions in reading order, a removed one where it stood."""

    lines: tuple[Line, ...]

    @property
    def is_empty(self) -> bool:
        """Both revisions have the same steps."""
        return not any(line.is_touched for line in self.lines)

    def count(self) -> dict[str, int]:
        """Return how many steps were added, removed, changed and moved; one may be both changed and moved."""
        counts = {str(mark): sum(line.mark == mark for line in self.lines) for mark in Mark if mark != Mark.SAME}
        return counts | {"moved": sum(line.moved for line in self.lines)}


AROUND = 1
"""Untouched steps that stay in sight before and after one that is touched."""
FOLDED = 3
"""Fewer untouched steps in a row than this aren't folded."""


@dataclass(frozen=True, slots=True)
class Run:
    """Steps in a row, folded away or in sight."""

    lines: tuple[Line, ...]
    is_folded: bool


@dataclass(frozen=True, slots=True)
class FoldedRedline:
    """A redline as it's read: long runs of untouched steps folded."""

    redline: Redline
    runs: tuple[Run, ...]


def fold(redline: Redline) -> FoldedRedline:
    """Return the redline in runs of steps; all of its lines, in their order."""
    lines = redline.lines
    near = {place + step for place, line in enumerate(lines) if line.is_touched for step in range(-AROUND, AROUND + 1)}
    runs: list[Run] = []
    for in_sight, group in groupby(range(len(lines)), key=lambda place: place in near):
        run = tuple(lines[place] for place in group)
        runs.append(Run(run, is_folded=not in_sight and len(run) >= FOLDED))
    return FoldedRedline(redline, tuple(runs))


def draw_redline(old: Sequence[Step], new: Sequence[Step]) -> Redline:
    """Return what must be done to the old steps to have the new ones."""
    before, after = {step.key: step for step in old}, {step.key: step for step in new}
    numbers = number_steps(old), number_steps(new)
    merged, moved = _merge_outlines(old, new)
    return Redline(tuple(_compare_steps(before.get(key), after.get(key), numbers, key in moved) for key in merged))


def compare_words(old: str, new: str) -> tuple[Span, ...]:
    """Return the runs of words; the same and removed ones joined give `old`, the same and added ones `new`.

    A blank between two changes belongs to them, so that a phrase that was replaced reads in one piece.
    """
    first, second = WORD.findall(old), WORD.findall(new)
    spans: list[Span] = []
    removed = added = ""
    steps = SequenceMatcher(None, first, second, autojunk=False).get_opcodes()
    for number, (what, start, end, begin, finish) in enumerate(steps):
        before, after = "".join(first[start:end]), "".join(second[begin:finish])
        if what != "equal" or (before.isspace() and 0 < number < len(steps) - 1):
            removed, added = removed + before, added + after
        else:
            spans += [*_mark_replaced(removed, added), Span(Mark.SAME, before)]
            removed = added = ""
    return (*spans, *_mark_replaced(removed, added))


def _mark_replaced(removed: str, added: str) -> Iterable[Span]:
    return (Span(mark, text) for mark, text in ((Mark.REMOVED, removed), (Mark.ADDED, added)) if text)


def merge_orders(old: Sequence[str], new: Sequence[str], gone: Iterable[str]) -> tuple[list[str], set[str]]:
    """Return `new` with the keys that are gone put in where they stood, and those of `old` that moved within it."""
    gone = set(gone)
    place = {key: index for index, key in enumerate(old)}
    kept = [key for key in new if key in place]
    staying = {kept[index] for index in _find_longest_rising([place[key] for key in kept])}
    behind: dict[str, list[str]] = {}
    anchor = ""
    for key in old:
        if key in staying:
            anchor = key
        elif key in gone:
            behind.setdefault(anchor, []).append(key)
    merged = list(behind.get("", []))
    for key in new:
        merged += [key, *behind.get(key, [])]
    return merged, set(kept) - staying


def _find_longest_rising(values: Sequence[int]) -> list[int]:
    """Return the indexes of a longest rising run of the values, gaps allowed; O(n log n)."""
    ends: list[int] = []  # the least value that a run of each length can end with
    last: list[int] = []  # where that value is
    before: list[int] = []
    for index, value in enumerate(values):
        length = bisect_left(ends, value)
        before.append(last[length - 1] if length else -1)
        ends[length : length + 1] = [value]
        last[length : length + 1] = [index]
    found: list[int] = []
    index = last[-1] if last else -1
    while index >= 0:
        found.append(index)
        index = before[index]
    return found[::-1]


def _merge_outlines(old: Sequence[Step], new: Sequence[Step]) -> tuple[list[str], set[str]]:
    old_parents = {step.key: step.parent for step in old}
    new_parents = {step.key: step.parent for step in new}
    moved = {key for key, parent in new_parents.items() if old_parents.get(key, parent) != parent}
    gone = set(old_parents) - set(new_parents)
    old_children, new_children = find_children(old), find_children(new)
    merged: list[str] = []
    waiting = [""]
    while waiting:
        parent = waiting.pop()
        if parent:
            merged.append(parent)
        order, shifted = merge_orders(old_children.get(parent, []), new_children.get(parent, []), gone)
        moved |= shifted
        waiting.extend(reversed(order))
    return merged, moved


def _compare_steps(
    old: Step | None, new: Step | None, numbers: tuple[Mapping[str, str], Mapping[str, str]], moved: bool
) -> Line:
    step = new or old
    if step is None:
        raise ValueError("a step in neither revision has no line")
    fields = tuple(_compare_fields(old, new)) if old and new else ()
    notices = tuple(_compare_notices(old.notices if old else (), new.notices if new else ()))
    is_same = bool(old and new and old.text == new.text and old.notices == new.notices and not fields)
    return Line(
        key=step.key,
        mark=_find_mark(old, new, is_same),
        moved=moved,
        old_number=numbers[0].get(step.key, ""),
        new_number=numbers[1].get(step.key, ""),
        kind=step.kind,
        words=compare_words(old.text if old else "", new.text if new else ""),
        fields=fields,
        reading=str(step.reading) if step.reading else "",
        notices=notices,
    )


def _find_mark(old: object, new: object, is_same: bool) -> Mark:
    if old is None:
        return Mark.ADDED
    if new is None:
        return Mark.REMOVED
    return Mark.SAME if is_same else Mark.CHANGED


def _compare_fields(old: Step, new: Step) -> Iterable[FieldChange]:
    if old.kind != new.kind:
        yield FieldChange("kind", old.kind, new.kind)
    first, second = old.reading or Reading(), new.reading or Reading()
    for name in ("expected", "unit", "low", "high"):
        before, after = getattr(first, name), getattr(second, name)
        if before != after:
            yield FieldChange(name, before, after)


def _compare_notices(old: Sequence[Notice], new: Sequence[Notice]) -> Iterable[NoticeLine]:
    before = {notice.key: notice for notice in old}
    after = {notice.key: notice for notice in new}
    merged, moved = merge_orders(list(before), list(after), set(before) - set(after))
    for key in merged:
        yield _compare_notice(before, after, key, key in moved)


def _compare_notice(before: Mapping[str, Notice], after: Mapping[str, Notice], key: str, moved: bool) -> NoticeLine:
    old, new = before.get(key), after.get(key)
    words = compare_words(old.text if old else "", new.text if new else "")
    mark = _find_mark(old, new, old == new)
    return NoticeLine(key, mark, moved, old.kind if old else "", new.kind if new else "", words)
