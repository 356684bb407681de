"""Steps of procedures in a record's history: text for people instead of keys."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from anomalies.models.ledger import LedgerEntry
from anomalies.models.procedure import ORDER_FIELD, STEP_FIELD, ProcedureRevision
from anomalies.steps import NoticeKind, load_steps

Texts = dict[str, str]


def is_step_field(kind: str, name: str) -> bool:
    """Tell whether the ledger's field is a step, or the order of all."""
    return kind == ProcedureRevision.KIND and (name == ORDER_FIELD or name.startswith(STEP_FIELD))


def read_step_texts(entries: Iterable[LedgerEntry]) -> Texts:
    """Return key -> the last text that a step had."""
    texts: Texts = {}
    for entry in entries:
        for name, values in entry.changes.items():
            if is_step_field(entry.kind, name) and name != ORDER_FIELD:
                texts |= {name.removeprefix(STEP_FIELD): step["text"] for step in values if step}
    return texts


def label_step_field(name: str) -> str:
    """Return what people call the field."""
    return "order of steps" if name == ORDER_FIELD else "step"


def describe_step_value(name: str, value: Any, texts: Texts) -> str:
    """Return a step with its warnings and its reading, or the texts of all steps in order."""
    if name == ORDER_FIELD:
        return " · ".join(texts.get(key, key) for key in value)
    (step,) = load_steps([value])
    notices = [f"{NoticeKind(notice.kind).label}: {notice.text}" for notice in step.notices]
    return "\n".join([*notices, step.text, *([f"Reading: {step.reading}"] if step.reading else [])])
