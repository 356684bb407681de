"""The two procedures of the stories, and how they came to say what they say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from anomalies.demo.stage import Stage
from anomalies.models import Activity, Anomaly, CorrectiveAction, Procedure, ProcedureRevision
from anomalies.services.procedures import add_procedure, draft_revision, use_procedure
from anomalies.services.revision_moves import acknowledge_revision, approve_revision, release_revision, submit_revision
from anomalies.services.revision_steps import add_revision_step, insert_revision_notice

Line = tuple[str, str, dict[str, str] | None, tuple[str, str] | None]
"""Kind, text, reading, notice before it (kind, text)."""

MATING: tuple[Line, ...] = (
    ("do", "Verify that valve V3 is closed at the panel.", None, None),
    ("check", "Read the loop pressure.", {"unit": "kPa", "low": "92.0", "high": "104.0"}, None),
    (
        "do",
        "Push the collar of the quick disconnect home until it clicks.",
        None,
        ("caution", "A collar that is turned before it clicks scores the seal."),
    ),
    ("do", "Turn the lock ring a quarter turn.", None, None),
    (
        "do",
        "Open valve V3.",
        None,
        ("warning", "Stand clear of the coupling: coolant under pressure burns skin and fogs visors."),
    ),
    ("check", "Read the loop pressure again after two minutes.", {"unit": "kPa", "low": "92.0", "high": "104.0"}, None),
)
PUMP: tuple[Line, ...] = (
    ("do", "Note the cause code on the pump panel.", None, None),
    ("do", "Press RESTART once.", None, None),
    ("check", "Read the pump current after ten seconds.", {"unit": "A", "low": "3.1", "high": "4.4"}, None),
    ("decide", "Out of limits: go on with hatch valve, by hand.", None, None),
)


def write_procedure(stage: Stage, title: str, kind: str, lines: Sequence[Line], summary: str) -> Procedure:
    """Write a procedure, and its first revision as a draft."""
    author = stage.people["thorne"]
    procedure = add_procedure(actor=author, title=title, kind=kind)
    revision = draft_revision(procedure_id=procedure.pk, actor=author, summary=summary)
    for line in lines:
        add_line(stage, revision.reread(), line)
    return procedure


def add_line(stage: Stage, revision: ProcedureRevision, line: Line, **place: Any) -> str:
    """Add a step, with what stands before it; returns its key."""
    author = stage.people["thorne"]
    kind, text, reading, notice = line
    given: dict[str, Any] = {
        "revision_id": revision.pk,
        "actor": author,
        "kind": kind,
        "text": text,
        "reading": reading,
    }
    changed, key = add_revision_step(version=revision.version, **given, **place)
    if notice:
        insert_revision_notice(
            revision_id=revision.pk, actor=author, version=changed.version, step_key=key, kind=notice[0], text=notice[1]
        )
    return key


def redraft(
    stage: Stage,
    procedure: Procedure,
    summary: str,
    *,
    anomaly: Anomaly | None = None,
    action: CorrectiveAction | None = None,
) -> ProcedureRevision:
    """Begin another revision, with what caused it."""
    keys: dict[str, Any] = {"anomaly_id": anomaly.pk if anomaly else None, "action_id": action.pk if action else None}
    return draft_revision(procedure_id=procedure.pk, actor=stage.people["thorne"], summary=summary, **keys)


def release(stage: Stage, revision: ProcedureRevision, activity: Activity) -> ProcedureRevision:
    """Submit, approve and release a revision, each by somebody else."""
    submitted = submit_revision(
        revision_id=revision.pk, actor=stage.people["thorne"], version=revision.reread().version
    )
    engineer, lead = stage.people["engineer"], stage.people["osk"]
    approved = approve_revision(
        revision_id=revision.pk, actor=engineer, version=submitted.version, proof=stage.sign("engineer")
    )
    return release_revision(
        revision_id=revision.pk,
        actor=lead,
        version=approved.version,
        proof=stage.sign("osk"),
        effective_from_id=activity.pk,
    )


def use(stage: Stage, procedure: Procedure, activity: Activity, role: str = "") -> None:
    """Have an activity use a procedure."""
    use_procedure(activity_id=activity.pk, procedure_id=procedure.pk, actor=stage.people["osk"], role=role)


def acknowledge(stage: Stage, revision: ProcedureRevision, *people: str) -> None:
    """Have people read it."""
    for person in people:
        acknowledge_revision(revision_id=revision.pk, actor=stage.people[person])
