"""Forms of the records' pages. Importing this enters all moves into the register (web/register.py)."""

from anomalies.forms import actions, anomalies, causes, findings, reports, screening, ties, verification

__all__ = ["actions", "anomalies", "causes", "findings", "reports", "screening", "ties", "verification"]
