"""Pages of a long list that isn't counted to its end: a page knows whether another one follows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

SIZE = 50
LAST_PAGE = 100_000
COUNTED = 1000
"""Beyond this the list says "more than": counting all of a long list costs more than reading a page of it."""


@dataclass(frozen=True, slots=True)
class Slice:
    """One page of rows; `number` counts from 1. The list has `count` rows, or more unless that `is_all`."""

    rows: list[Any]
    number: int
    has_next: bool
    count: int
    is_all: bool

    @property
    def previous(self) -> int:
        """Number of the page before; 0 if there's none."""
        return self.number - 1

    @property
    def following(self) -> int:
        """Number of the page after; 0 if there's none."""
        return self.number + 1 if self.has_next else 0

    @property
    def first(self) -> int:
        """Place of its first row, from 1."""
        return (self.number - 1) * SIZE + 1

    @property
    def last(self) -> int:
        """Place of its last row."""
        return self.first + len(self.rows) - 1


def read_slice(request: HttpRequest, rows: QuerySet[Any], *, name: str = "page") -> Slice:
    """Return the page that the query parameter asks for; nonsense gives the first.

    Keys are found first, then their rows: a deep page walks over keys in an index, not over whole rows.
    """
    asked = request.GET.get(name, "1")
    number = min(max(int(asked), 1), LAST_PAGE) if asked.isascii() and asked.isdecimal() and len(asked) < 9 else 1
    start = (number - 1) * SIZE
    keys, count = _find_keys(rows.values_list("pk", flat=True), start)
    found = rows.model._default_manager.filter(pk__in=keys[:SIZE])
    by_key = {row.pk: row for row in found.select_related(*_joined(rows))}
    shown = [by_key[key] for key in keys[:SIZE] if key in by_key]
    return Slice(shown, number, len(keys) > SIZE, min(count, COUNTED), count <= COUNTED)


def _find_keys(keys: QuerySet[Any, Any], start: int) -> tuple[list[Any], int]:
    """Return the keys of one page and of the row that follows, and how many there are, to one past COUNTED.

    One query does for both but on a page that lies behind the last: what is looked for is looked for once.
    """
    if start < COUNTED:
        found = list(keys[: max(COUNTED, start + SIZE) + 1])
        return found[start : start + SIZE + 1], len(found)
    shown = list(keys[start : start + SIZE + 1])
    return shown, COUNTED + 1 if shown else keys.order_by()[: COUNTED + 1].count()


def _joined(rows: QuerySet[Any]) -> list[str]:
    joined = rows.query.select_related
    return list(joined) if isinstance(joined, dict) else []
