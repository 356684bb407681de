"""Addresses that name no record because none can have such a name."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse

from config.kit.addresses import LAST_KEY


class PathMiddleware:
    """Answers 404 to a key past the last one and to a NUL character: databases refuse to look for them, with a 500."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, positional: Any, named: dict[str, Any]) -> None:
        """Look at what the path gives the view; raises Http404."""
        for value in named.values():
            if (isinstance(value, int) and value > LAST_KEY) or (isinstance(value, str) and "\0" in value):
                raise Http404
