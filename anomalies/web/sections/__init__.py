"""Sections of the dossier. Importing this enters them (web/dossier.py)."""

from anomalies.web.sections import anomaly, investigation

__all__ = ["anomaly", "investigation"]
