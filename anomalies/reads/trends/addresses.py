"""Where a figure of the trends leads: to its records, and to its explanation."""

from __future__ import annotations

from urllib.parse import urlencode

from django.urls import reverse

from anomalies.reads.trends.filter import TrendFilter


def find_records_url(wanted: TrendFilter, what: str, of: str = "") -> str:
    """Return the address of the records behind a figure."""
    return f"{reverse('anomalies:trend_records')}?{wanted.query}{_write(what=what, of=of)}"


def find_explanation_url(wanted: TrendFilter, figure: str, of: str = "") -> str:
    """Return the address of the explanation of a figure."""
    return f"{reverse('anomalies:explain_trend', args=(figure,))}?{wanted.query}{_write(of=of)}".rstrip("?&")


def find_page_url(wanted: TrendFilter) -> str:
    """Return the address of the page."""
    return f"{reverse('anomalies:trends')}?{wanted.query}".rstrip("?&")


def _write(**given: str) -> str:
    return urlencode({name: value for name, value in given.items() if value})
