"""One view, two answers: the whole page, or the piece of it that htmx asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers


def wants_fragment(request: HttpRequest) -> bool:
    """Tell whether htmx asked for a piece; going back in the history asks for the whole page."""
    headers = request.headers
    return headers.get("HX-Request") == "true" and headers.get("HX-History-Restore-Request") != "true"


def page_or_fragment(
    request: HttpRequest, page: str, fragment: str, context: Mapping[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render `fragment` for htmx and `page` for everybody else, from the same context.

    The answer varies with the headers, so no cache hands a piece to someone who asked for the page.
    """
    template = fragment if wants_fragment(request) else page
    response = render(request, template, dict(context), status=status)
    patch_vary_headers(response, ["HX-Request", "HX-History-Restore-Request"])
    return response
