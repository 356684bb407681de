"""What a request changed: nothing, if the database was told to write nothing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction

WRITING = ("INSERT", "UPDATE", "DELETE", "REPLACE")


@contextmanager
def writes() -> Iterator[list[str]]:
    """Collect the statements of the block that write."""
    found: list[str] = []

    def look(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip().upper().startswith(WRITING):
            found.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(look):
        yield found


@contextmanager
def undone() -> Iterator[None]:
    """Undo whatever the block wrote."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
