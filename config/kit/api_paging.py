"""Pages of the API's lists; nothing is counted far past a page, for that costs more than reading it."""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import NotFound
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import remove_query_param, replace_query_param

from config.kit.addresses import LAST_KEY

COUNTED = 1_000
"""Up to here a list says how long it is."""
NO_PAGE = "There is no such page."


class Pagination(PageNumberPagination):
    """One row more than the page holds is read, which tells whether there's a next page.

    `count` is how many rows there are if `count_is_exact`, else at least how many. The rows must be in a definite
    order.
    """

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        """Return the rows of the page that was asked for; raises NotFound past the last one."""
        size = self.get_page_size(request) or 0
        self.address, self.number = request.build_absolute_uri(), self._read_number(request)
        start = (self.number - 1) * size
        if start > LAST_KEY - size:
            raise NotFound(NO_PAGE)
        rows = list(queryset[start : start + size + 1])
        if not rows and start:
            raise NotFound(NO_PAGE)
        self.has_next = len(rows) > size
        self.count, self.is_exact = self._count(queryset, start + len(rows))
        return rows[:size]

    def get_paginated_response(self, data: Any) -> Response:
        """Return the page with the addresses of its neighbours."""
        shown: dict[str, Any] = {"count": self.count, "count_is_exact": self.is_exact}
        shown |= {"next": self._link(self.number + 1) if self.has_next else None}
        shown |= {"previous": self._link(self.number - 1) if self.number > 1 else None}
        return Response(shown | {"results": data})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Return what the OpenAPI schema says of a page of such rows."""
        link = {"type": "string", "format": "uri", "nullable": True}
        count = {"type": "integer", "description": "How many there are; at least, unless count_is_exact."}
        exact = {"type": "boolean", "description": f"False past {COUNTED}: it isn't counted on."}
        fields = {"count": count, "count_is_exact": exact, "next": link, "previous": link, "results": schema}
        return {"type": "object", "required": list(fields), "properties": fields}

    def _read_number(self, request: Request) -> int:
        text = request.query_params.get(self.page_query_param, "1")
        number = int(text) if text.isascii() and text.isdecimal() and len(text) < 20 else 0
        if number < 1:
            raise NotFound(NO_PAGE)
        return number

    def _count(self, queryset: Any, seen: int) -> tuple[int, bool]:
        """Return how many there are, and whether that is all; `seen` says how many there are at least."""
        if not self.has_next:
            return seen, True
        if seen > COUNTED:
            return seen, False
        found = queryset.order_by().values("pk")[: COUNTED + 1].count()
        return min(found, COUNTED), found <= COUNTED

    def _link(self, number: int) -> str:
        if number == 1:
            return remove_query_param(self.address, self.page_query_param)
        return replace_query_param(self.address, self.page_query_param, number)
