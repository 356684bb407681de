"""Writes of the steps of a drafted revision, one step at a time.

Each raises EditConflict if the revision changed since `version`; it then names, under "step <key>", what became of
each step in the meantime. An edit that changes nothing writes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from uuid import uuid4

from django.contrib.auth.models import User
from django.db import transaction

from anomalies import step_edits
from anomalies.models import ProcedureRevision
from anomalies.services.checks import begin_move, clean_text
from anomalies.services.ledger import change_record, check_version
from anomalies.states import PROCEDURE_REVISION
from anomalies.steps import Notice, Reading, Step, Steps, store_steps
from config.kit.errors import BadInput

READING_FIELDS = ("expected", "unit", "low", "high")
NO_READING = f"A reading has these fields, all text: {', '.join(READING_FIELDS)}."


@transaction.atomic
def add_revision_step(
    *,
    revision_id: int,
    actor: User,
    version: int,
    kind: str,
    text: str,
    parent: str = "",
    after: str | None = None,
    reading: Mapping[str, str] | None = None,
) -> tuple[ProcedureRevision, str]:
    """The step stands under `parent` ("" is the top) after its sibling `after` ("" first, None last).

    Returns the revision and the key that the step keeps through all later revisions.
    """
    step = Step(uuid4().hex, parent, kind, clean_text("text", text), _clean_reading(reading))
    revision = _edit(
        revision_id, actor, version, "add_step", lambda steps: step_edits.add_step(steps, step, after=after)
    )
    return revision, step.key


@transaction.atomic
def change_revision_step(
    *, revision_id: int, actor: User, version: int, key: str, changes: Mapping[str, Any]
) -> ProcedureRevision:
    """The step has another kind, text or reading; a reading is given whole, or None."""
    cleaned = dict(changes)
    if "text" in cleaned:
        cleaned["text"] = clean_text("text", cleaned["text"])
    if "reading" in cleaned:
        cleaned["reading"] = _clean_reading(cleaned["reading"])
    return _edit(
        revision_id,
        actor,
        version,
        "change_step",
        lambda steps: step_edits.change_step(steps, key, cleaned),
        yours={f"step {key}": dict(changes)},
    )


@transaction.atomic
def move_revision_step(
    *, revision_id: int, actor: User, version: int, key: str, parent: str, after: str | None = None
) -> ProcedureRevision:
    """The step, with all that is under it, stands under `parent` after its sibling `after` ("" first, None last)."""
    return _edit(
        revision_id,
        actor,
        version,
        "move_step",
        lambda steps: step_edits.move_step(steps, key, parent=parent, after=after),
        yours={f"step {key}": {"parent": parent}},
    )


@transaction.atomic
def delete_revision_step(*, revision_id: int, actor: User, version: int, key: str) -> ProcedureRevision:
    """The step, with all that is under it, isn't part of the revision; the one before keeps it."""
    return _edit(
        revision_id,
        actor,
        version,
        "delete_step",
        lambda steps: step_edits.delete_step(steps, key),
        yours={f"step {key}": None},
    )


@transaction.atomic
def insert_revision_notice(
    *, revision_id: int, actor: User, version: int, step_key: str, kind: str, text: str
) -> tuple[ProcedureRevision, str]:
    """A warning, caution or note stands before the step. Returns the revision and the notice's key."""
    notice = Notice(uuid4().hex, kind, clean_text("text", text))
    revision = _edit(
        revision_id,
        actor,
        version,
        "insert_notice",
        lambda steps: step_edits.insert_notice(steps, step_key, notice),
        yours={f"step {step_key}": {"notices": [{"kind": kind, "text": text}]}},
    )
    return revision, notice.key


@transaction.atomic
def change_revision_notice(
    *, revision_id: int, actor: User, version: int, key: str, kind: str, text: str
) -> ProcedureRevision:
    """The warning, caution or note says something else."""
    cleaned = clean_text("text", text)
    return _edit(
        revision_id,
        actor,
        version,
        "change_notice",
        lambda steps: step_edits.change_notice(steps, key, kind=kind, text=cleaned),
    )


@transaction.atomic
def remove_revision_notice(*, revision_id: int, actor: User, version: int, key: str) -> ProcedureRevision:
    """The warning, caution or note doesn't stand before its step any more."""
    return _edit(revision_id, actor, version, "remove_notice", lambda steps: step_edits.remove_notice(steps, key))


def _edit(
    revision_id: int,
    actor: User,
    version: int,
    verb: str,
    edit: Callable[[Steps], Steps],
    yours: Mapping[str, Any] | None = None,
) -> ProcedureRevision:
    revision = ProcedureRevision.objects.lock(revision_id)
    begin_move(revision, PROCEDURE_REVISION, "edit", actor)
    check_version(revision, seen=version, changes=yours or {})
    steps = edit(revision.read_steps())
    if steps != revision.read_steps():
        changes = {"steps": store_steps(steps)}
        change_record(revision, changes, actor=actor, action=f"procedure_revision.{verb}")
    return revision


def _clean_reading(reading: Mapping[str, str] | None) -> Reading | None:
    """Return the reading with each field cleaned; None if all are blank."""
    if reading is None:
        return None
    if any(name not in READING_FIELDS or not isinstance(value, str) for name, value in reading.items()):
        raise BadInput(NO_READING, code="bad_reading", fields={"reading": [NO_READING]})
    cleaned = Reading(**{name: clean_text(name, value) for name, value in reading.items()})
    return cleaned if cleaned != Reading() else None
