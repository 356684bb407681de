"""One paginator for every list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet
from django.http import HttpRequest

T = TypeVar("T", bound=Model)

PAGE_SIZE = 50


def paginate(
    request: HttpRequest, rows: QuerySet[T] | Sequence[Any], *, size: int = PAGE_SIZE, name: str = "page"
) -> Page[Any]:
    """Return the page that the query parameter `name` asks for; nonsense gives the first or the last one.

    The rows must be in a definite order, else a row can show on two pages or on none.
    """
    return Paginator(rows, size).get_page(request.GET.get(name))
