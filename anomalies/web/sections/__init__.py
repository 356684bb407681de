"""Sections of the dossier. Importing this enters them (web/dossier.py)."""

from anomalies.web.sections import actions, anomaly, evidence, fault_tree, investigation, lessons

__all__ = ["actions", "anomaly", "evidence", "fault_tree", "investigation", "lessons"]
