"""Gives numbers without gaps: a number is given in the transaction that uses it, and is taken back with it."""

from __future__ import annotations

from anomalies.models.numbering import NumberSeries


def take_number(series: str) -> int:
    """Return the next number of a series, from 1; others wait for theirs until the caller's transaction ends."""
    row = hold_series(series)
    row.last += 1
    row.save(update_fields=["last"])
    return row.last


def hold_series(series: str) -> NumberSeries:
    """Return the series, locked until the caller's transaction ends: for rules that need to be alone."""
    row, _ = NumberSeries.objects.select_for_update().get_or_create(name=series)
    return row
