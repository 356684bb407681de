"""Explanations of figures, by page. Importing this enters them (web/explained.py)."""

from anomalies.web.explanations import benefit, effectiveness, investigation, learning, trend_tests, trends

__all__ = ["benefit", "effectiveness", "investigation", "learning", "trend_tests", "trends"]
