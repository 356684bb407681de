"""A refusal must leave nothing behind."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import connection

from anomalies.models import LedgerEntry, LedgerHead, NumberSeries
from anomalies.models.base import record_models
from config.kit.errors import DomainError


def everything() -> dict[str, list[Any]]:
    """All rows of all tables of the app, as the database gives them: it's asked before and after each refusal."""
    tables = [model._meta for model in (*record_models(), LedgerEntry, LedgerHead, NumberSeries)]
    with connection.cursor() as cursor:
        return {table.db_table: _read_rows(cursor, table.db_table, table.pk.column) for table in tables}


def _read_rows(cursor: Any, table: str, key: str) -> list[Any]:
    cursor.execute(f'SELECT * FROM "{table}" ORDER BY "{key}"')  # names of our own tables
    rows: list[Any] = cursor.fetchall()
    return rows


@contextmanager
def refused(error: type[DomainError], *, code: str = "", match: str | None = None) -> Iterator[Any]:
    """The block raises the error, with this code if one is given, and no row of any table differs afterwards."""
    before = everything()
    with pytest.raises(error, match=match) as caught:
        yield caught
    assert everything() == before
    if code:
        assert caught.value.code == code
