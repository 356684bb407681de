"""Pages of a long list that isn't counted: a page knows whether another one follows, and no more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

SIZE = 50
LAST_PAGE = 100_000


@dataclass(frozen=True, slots=True)
class Slice:
    """One page of rows; `number` counts from 1."""

    rows: list[Any]
    number: int
    has_next: bool

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
    keys = list(rows.values_list("pk", flat=True)[start : start + SIZE + 1])
    found = rows.model._default_manager.filter(pk__in=keys[:SIZE])
    by_key = {row.pk: row for row in found.select_related(*_joined(rows))}
    return Slice([by_key[key] for key in keys[:SIZE] if key in by_key], number, len(keys) > SIZE)


def _joined(rows: QuerySet[Any]) -> list[str]:
    joined = rows.query.select_related
    return list(joined) if isinstance(joined, dict) else []
