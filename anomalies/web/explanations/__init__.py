"""Explanations of figures, by page. Importing this enters them (web/explained.py)."""

from anomalies.web.explanations import investigation

__all__ = ["investigation"]
