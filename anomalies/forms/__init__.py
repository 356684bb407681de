"""Forms of the records' pages. Importing this enters all moves into the register (web/register.py)."""

from anomalies.forms import (
    actions,
    activities,
    anomalies,
    causes,
    evidence,
    findings,
    hardware,
    procedures,
    reports,
    revision_steps,
    revisions,
    screening,
    ties,
    timeline,
    tokens,
    verification,
)

__all__ = [
    "actions",
    "activities",
    "anomalies",
    "causes",
    "evidence",
    "findings",
    "hardware",
    "procedures",
    "reports",
    "revision_steps",
    "revisions",
    "screening",
    "ties",
    "timeline",
    "tokens",
    "verification",
]
