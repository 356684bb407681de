"""Edits of a procedure's steps: each returns the steps as they are afterwards, or raises BadInput.

Nothing here draws keys or touches the database, so the same edit of the same steps always gives the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

from anomalies.steps import (
    Notice,
    NoticeKind,
    Reading,
    Step,
    StepKind,
    Steps,
    find_children,
    measure_depth,
    number_steps,
)
from config.kit.errors import BadInput

MOST_STEPS = 500
DEEPEST = 5
LONGEST_STEP = 2000
LONGEST_NOTICE = 500
LONGEST_READING = {"expected": 200, "unit": 20}
DECIMAL = re.compile(r"[+-]?\d{1,12}(\.\d{1,12})?", re.ASCII)

CHANGEABLE = ("kind", "text", "reading")
NO_DECIMAL = "Write a decimal number, like 55.0, with at most 12 digits on each side of the point."
TURNED = "The high limit must not be below the low one."
NO_PLACE = "The step after which this should stand isn't there (any more), or isn't under this parent."
SEVERITY = {kind: rank for rank, kind in enumerate(NoticeKind.values)}


def add_step(steps: Steps, step: Step, *, after: str | None = None) -> Steps:
    """The step stands under its parent, after the sibling `after`: "" is first, None is last."""
    if len(steps) >= MOST_STEPS:
        raise BadInput(f"A procedure has at most {MOST_STEPS} steps.", code="too_many_steps")
    if any(known.key == step.key for known in steps):
        raise BadInput("This step is there already.", code="step_there")
    if step.notices:
        raise BadInput("A step is added first, its warnings then.", code="notices_apart")
    _check_fields(step)
    return _place(steps, [step], step.parent, after)


def change_step(steps: Steps, key: str, changes: Mapping[str, Any]) -> Steps:
    """The step has the kind, text or reading given; where it stands and what warns of it stays."""
    unknown = {name: ["A step has no such field."] for name in changes if name not in CHANGEABLE}
    if unknown:
        raise BadInput("Some of this can't be used; nothing was saved.", fields=unknown)
    step = replace(find_step(steps, key), **changes)
    _check_fields(step)
    return _swap(steps, step)


def move_step(steps: Steps, key: str, *, parent: str, after: str | None = None) -> Steps:
    """The step stands under the parent, after the sibling `after` ("" first, None last), with all that is under it."""
    branch = find_branch(steps, key)
    if parent in branch:
        raise BadInput("A step can't stand under itself.", code="under_itself", fields={"parent": ["Choose another."]})
    moved = [replace(step, parent=parent) if step.key == key else step for step in steps if step.key in branch]
    return _place(tuple(step for step in steps if step.key not in branch), moved, parent, after)


def delete_step(steps: Steps, key: str) -> Steps:
    """The step and all that is under it is gone."""
    branch = find_branch(steps, key)
    return tuple(step for step in steps if step.key not in branch)


def insert_notice(steps: Steps, key: str, notice: Notice) -> Steps:
    """The warning, caution or note stands before the step; warnings stand before cautions, cautions before notes."""
    step = find_step(steps, key)
    if any(known.key == notice.key for other in steps for known in other.notices):
        raise BadInput("This warning is there already.", code="notice_there")
    return _swap(steps, replace(step, notices=_sort_notices([*step.notices, _checked(notice)])))


def change_notice(steps: Steps, key: str, *, kind: str, text: str) -> Steps:
    """The warning, caution or note with this key says `text`."""
    step = find_protected(steps, key)
    changed = _checked(Notice(key, kind, text))
    return _swap(steps, replace(step, notices=_sort_notices(changed if n.key == key else n for n in step.notices)))


def remove_notice(steps: Steps, key: str) -> Steps:
    """The warning, caution or note with this key is gone."""
    step = find_protected(steps, key)
    return _swap(steps, replace(step, notices=tuple(notice for notice in step.notices if notice.key != key)))


def find_step(steps: Steps, key: str) -> Step:
    """Return the step with this key; raises BadInput."""
    for step in steps:
        if step.key == key:
            return step
    raise BadInput("This step isn't there (any more).", code="no_such_step")


def find_protected(steps: Steps, notice_key: str) -> Step:
    """Return the step before which the warning, caution or note with this key stands; raises BadInput."""
    for step in steps:
        if any(notice.key == notice_key for notice in step.notices):
            return step
    raise BadInput("This warning isn't there (any more).", code="no_such_notice")


def find_branch(steps: Steps, key: str) -> set[str]:
    """Return the keys of the step and of all that is under it; raises BadInput."""
    branch = {find_step(steps, key).key}
    for step in steps:  # a parent is read before its children
        if step.parent in branch:
            branch.add(step.key)
    return branch


def _place(steps: Steps, moved: list[Step], parent: str, after: str | None) -> Steps:
    """Put a branch, its top first, among the other steps; they stay in order."""
    if parent:
        find_step(steps, parent)
    top = moved[0].key
    siblings = find_children(steps).get(parent, [])
    if after is None:
        siblings = [*siblings, top]
    elif after == "":
        siblings = [top, *siblings]
    elif after in siblings:
        cut = siblings.index(after) + 1
        siblings = [*siblings[:cut], top, *siblings[cut:]]
    else:
        raise BadInput(NO_PLACE, code="no_such_place", fields={"after": [NO_PLACE]})
    placed = _put_in_order({step.key: step for step in (*steps, *moved)}, parent, siblings)
    deepest = max(map(measure_depth, number_steps(placed).values()))
    if deepest > DEEPEST:
        message = f"Steps are nested at most {DEEPEST} deep; this would make it {deepest}."
        raise BadInput(message, code="too_deep", fields={"parent": [message]})
    return placed


def _put_in_order(by_key: Mapping[str, Step], parent: str, siblings: list[str]) -> Steps:
    children = find_children(tuple(by_key.values())) | {parent: siblings}
    ordered: list[Step] = []
    waiting = list(reversed(children[""]))
    while waiting:
        key = waiting.pop()
        ordered.append(by_key[key])
        waiting.extend(reversed(children.get(key, [])))
    return tuple(ordered)


def _swap(steps: Steps, changed: Step) -> Steps:
    return tuple(changed if step.key == changed.key else step for step in steps)


def _sort_notices(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    return tuple(sorted(notices, key=lambda notice: SEVERITY[notice.kind]))


def _checked(notice: Notice) -> Notice:
    faults: dict[str, list[str]] = {}
    if notice.kind not in NoticeKind.values:
        faults["kind"] = ["Choose one of: " + ", ".join(NoticeKind.values) + "."]
    _check_text(faults, "text", notice.text, LONGEST_NOTICE)
    if faults:
        raise BadInput("This warning can't be used; nothing was saved.", fields=faults)
    return notice


def _check_fields(step: Step) -> None:
    faults: dict[str, list[str]] = {}
    if step.kind not in StepKind.values:
        faults["kind"] = ["Choose one of: " + ", ".join(StepKind.values) + "."]
    _check_text(faults, "text", step.text, LONGEST_STEP)
    if step.reading is not None:
        faults |= _find_reading_faults(step.reading)
    if faults:
        raise BadInput("This step can't be used; nothing was saved.", fields=faults)


def _check_text(faults: dict[str, list[str]], name: str, text: str, longest: int) -> None:
    if not text.strip():
        faults[name] = ["Write what it says."]
    elif len(text) > longest:
        faults[name] = [f"This has {len(text):,} characters; at most {longest:,} are kept."]


def _find_reading_faults(reading: Reading) -> dict[str, list[str]]:
    faults: dict[str, list[str]] = {}
    if not any(getattr(reading, field.name) for field in fields(reading) if field.name != "unit"):
        faults["expected"] = ["Say what is expected, or give a limit."]
    for name, longest in LONGEST_READING.items():
        if len(getattr(reading, name)) > longest:
            faults[name] = [f"At most {longest} characters are kept."]
    bad = [name for name in ("low", "high") if (limit := getattr(reading, name)) and not DECIMAL.fullmatch(limit)]
    faults |= {name: [NO_DECIMAL] for name in bad}
    if reading.low and reading.high and not bad and Decimal(reading.high) < Decimal(reading.low):
        faults["high"] = [TURNED]
    if (reading.low or reading.high) and not reading.unit:
        faults["unit"] = ["A limit needs its unit; write 1 for a bare number."]
    return faults
