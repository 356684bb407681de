"""Forms of the records' pages. Importing this enters all moves into the register (web/register.py)."""

from anomalies.forms import anomalies, screening, ties

__all__ = ["anomalies", "screening", "ties"]
