"""Lists as CSV, row by row, so that the length of a list costs no memory."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from django.http import StreamingHttpResponse

FORMULAS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes a cell that begins so for a formula."""


class Echo:
    """A file that gives back what is written to it."""

    def write(self, text: str) -> str:
        """Return the text."""
        return text


def write_csv(name: str, header: Sequence[str], rows: Iterable[Sequence[Any]]) -> StreamingHttpResponse:
    """Return the rows as a file to save, in UTF-8; moments are in UTC, and no cell is a formula."""
    response = StreamingHttpResponse(_write(header, rows), content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


def _write(header: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    writer = csv.writer(Echo())
    yield writer.writerow(header)
    for row in rows:
        yield writer.writerow([write_cell(value) for value in row])


def write_cell(value: Any) -> Any:
    """Return what stands in a cell: nothing for None, a quote before what a spreadsheet would compute."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
    if isinstance(value, str) and value.startswith(FORMULAS):
        return f"'{value}"
    return value
