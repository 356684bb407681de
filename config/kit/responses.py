"""Turns what a service raised into an answer, once for all pages."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from config.kit.errors import DomainError
from config.kit.htmx import wants_fragment


def respond_to_error(request: HttpRequest, error: DomainError) -> HttpResponse:
    """Return the error as JSON, as a fragment or as a page, whichever was asked for."""
    if prefers_json(request):
        return JsonResponse(error.as_dict(), status=error.status)
    template = "_refused.html" if wants_fragment(request) else "refused.html"
    return render(request, template, {"error": error}, status=error.status)


def prefers_json(request: HttpRequest) -> bool:
    """Tell whether the client would rather have JSON than HTML; one that doesn't say gets HTML."""
    return request.get_preferred_type(["text/html", "application/json"]) == "application/json"


class DomainErrorMiddleware:
    """Answers a DomainError that a view let through; every other exception goes on to the log and a 500."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the answer for a DomainError, else None."""
        return respond_to_error(request, exception) if isinstance(exception, DomainError) else None
