"""Forms of the records' pages. Importing this enters all moves into the register (web/register.py)."""

from anomalies.forms import anomalies, causes, findings, reports, screening, ties

__all__ = ["anomalies", "causes", "findings", "reports", "screening", "ties"]
