"""Forms of the records' pages. Importing this enters all moves into the register (web/register.py)."""

from anomalies.forms import (
    actions,
    anomalies,
    causes,
    evidence,
    findings,
    procedures,
    reports,
    revision_steps,
    revisions,
    screening,
    ties,
    timeline,
    verification,
)

__all__ = [
    "actions",
    "anomalies",
    "causes",
    "evidence",
    "findings",
    "procedures",
    "reports",
    "revision_steps",
    "revisions",
    "screening",
    "ties",
    "timeline",
    "verification",
]
