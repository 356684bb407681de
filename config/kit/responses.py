"""Turns what a service raised into an answer, once for all pages and once for the API."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from rest_framework import exceptions, status
from rest_framework.response import Response
from rest_framework.views import exception_handler

from config.kit.errors import BadInput, DomainError
from config.kit.htmx import wants_fragment

NOT_LOGGED_IN = "Log in, or send an access token in the header “Authorization: Bearer”."
NOT_FOUND = "There is none, or you may not see it."


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


def respond_to_api_error(error: Exception, context: dict[str, Any]) -> Response | None:
    """Return every error of the API as {code, message, fields}; None for one that is ours and goes to the log."""
    if isinstance(error, DomainError):
        code = status.HTTP_400_BAD_REQUEST if isinstance(error, BadInput) else error.status
        return Response(error.as_dict(), status=code)
    if isinstance(error, SuspiciousOperation):
        return _refuse_suspicious(error)
    response = exception_handler(error, context)
    if response is None:
        return None
    if isinstance(error, exceptions.ValidationError):
        message, fields = "Some of what was sent can't be used.", _flatten(error.detail)
        response.data = {"code": "bad_input", "message": message, "fields": fields}
    else:
        response.data = {"code": _code(error), "message": _message(error, response), "fields": {}}
    return response


def _refuse_suspicious(error: SuspiciousOperation) -> Response:
    if isinstance(error, RequestDataTooBig):
        too_large = {"code": "too_large", "message": "More was sent than is taken.", "fields": {}}
        return Response(too_large, status=status.HTTP_413_REQUEST_ENTITY_TOO_LARGE)
    message = "What was sent isn't put together as it should be."
    return Response({"code": "bad_input", "message": message, "fields": {}}, status=status.HTTP_400_BAD_REQUEST)


def _message(error: Exception, response: Response) -> str:
    """Return a sentence for people: what the framework says of a missing row names our classes."""
    if isinstance(error, exceptions.NotAuthenticated):
        return NOT_LOGGED_IN
    return NOT_FOUND if isinstance(error, Http404) else str(response.data["detail"])


def _code(error: Exception) -> str:
    if isinstance(error, Http404):
        return "not_found"
    if isinstance(error, PermissionDenied):
        return "not_allowed"
    codes = error.get_codes() if isinstance(error, exceptions.APIException) else "refused"
    return codes if isinstance(codes, str) else "refused"


def _flatten(detail: Any, name: str = "") -> dict[str, list[str]]:
    """Return messages by dotted field name."""
    if isinstance(detail, dict):
        found: dict[str, list[str]] = {}
        for key, value in detail.items():
            found |= _flatten(value, f"{name}.{key}" if name else str(key))
        return found
    return {name: [str(message) for message in (detail if isinstance(detail, list) else [detail])]}
