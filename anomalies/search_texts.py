"""What each kind of record says to the search: codes, a title, and the rest. A new kind is one more function here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from anomalies.models import (
    Activity,
    Anomaly,
    Cause,
    Constraint,
    CorrectiveAction,
    Evidence,
    Finding,
    HardwareItem,
    HardwareType,
    Lesson,
    Procedure,
    ProcedureRevision,
    TimelineEntry,
)
from anomalies.models.anomaly import UNNUMBERED
from anomalies.models.base import Record


@dataclass(frozen=True, slots=True)
class Text:
    """The text of a record; `owner_id` if nobody else may see it."""

    title: str
    codes: str = ""
    body: str = ""
    anomaly_id: int | None = None
    owner_id: int | None = None


def _join(*parts: Any) -> str:
    return "\n".join(str(part) for part in parts if part)


def write_anomaly(row: Anomaly) -> Text:
    """Number, serials concerned, and the whole story."""
    items = HardwareItem.objects.filter(anomaly_concerns__anomaly=row, anomaly_concerns__active=True)
    codes = [f"{serial} {part}" for serial, part in items.values_list("serial_number", "type__part_number")]
    story = (row.description, row.place, row.immediate_response, row.risk_rationale, row.closing_statement)
    hidden = row.recorded_by_id if row.state in UNNUMBERED else None
    return Text(row.title, _join(row.number, *codes), _join(*story, row.unexplained_rationale), row.pk, hidden)


def write_evidence(row: Evidence) -> Text:
    """Title, description, statement and file name; not what the file holds."""
    return Text(
        row.title,
        f"{row.anomaly.number} {row.label}\n{row.sha256}",
        _join(row.description, row.stated_by, row.statement, row.file_name, row.address),
        row.anomaly_id,
    )


def write_action(row: CorrectiveAction) -> Text:
    """Number, criteria, what was done and how it was verified."""
    told = (row.description, row.acceptance_criteria, row.done_note, row.retest_note, row.kit_item, row.kit_stowage)
    return Text(row.title, row.number, _join(*told, row.verification_note, row.effectiveness_note), row.anomaly_id)


def write_procedure(row: Procedure) -> Text:
    """Number, title, and the steps of the newest revision that isn't withdrawn."""
    newest = row.revisions.exclude(state="withdrawn").order_by("-number").first()
    steps = newest.read_steps() if newest else []
    lines = [_join(*(notice.text for notice in step.notices), step.text) for step in steps]
    return Text(row.title, row.number, _join(newest.summary if newest else "", *lines))


WRITERS: dict[Any, Callable[[Any], Text]] = {
    Anomaly: write_anomaly,
    Activity: lambda row: Text(row.title, "", _join(row.get_kind_display(), *row.tasks, row.state_reason)),
    HardwareItem: lambda row: Text(row.type.name, f"{row.serial_number} {row.type.part_number}", row.location),
    HardwareType: lambda row: Text(row.name, row.part_number),
    Constraint: lambda row: Text(row.statement[:200], "", _join(row.statement, row.resolution), row.anomaly_id),
    Evidence: write_evidence,
    TimelineEntry: lambda row: Text(row.text[:200], row.anomaly.number or "", row.text, row.anomaly_id),
    Finding: lambda row: Text(row.statement[:200], f"{row.anomaly.number} {row.label}", row.statement, row.anomaly_id),
    Cause: lambda row: Text(
        row.statement[:200],
        f"{row.anomaly.number} {row.label} {row.event_code}",
        _join(row.statement, row.rationale),
        row.anomaly_id,
    ),
    CorrectiveAction: write_action,
    Procedure: write_procedure,
    Lesson: lambda row: Text(row.title, row.number, _join(row.what_happened, row.why, row.what_to_do)),
}

OWNERS: dict[str, Callable[[Any], Record]] = {
    "anomaly_hardware": lambda row: row.anomaly,
    ProcedureRevision.KIND: lambda row: row.procedure,
}
"""Kind of a part -> the record whose text a change of the part changes."""
