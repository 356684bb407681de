"""Sections of the dossier. Importing this enters them (web/dossier.py)."""

from anomalies.web.sections import actions, anomaly, evidence, investigation

__all__ = ["actions", "anomaly", "evidence", "investigation"]
