"""Explanations of figures, by page. Importing this enters them (web/explained.py)."""

from anomalies.web.explanations import effectiveness, investigation, learning

__all__ = ["effectiveness", "investigation", "learning"]
