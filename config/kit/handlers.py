"""What is answered where no view is reached, or one broke: JSON below /api/, a page elsewhere."""

from __future__ import annotations

import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.views import defaults

NOT_FOUND = "There is nothing at this address."
BROKEN = "Something broke on our side; what was sent may not have been stored."
AWAY = "The database can't be reached just now. Nothing was stored: go back, wait a moment and send it again."
FULL = "There is no room left to store anything. Nothing was stored: tell whoever runs this service, then try again."
BAD_REQUEST = "The request isn't put together as it should be."


def answer_bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 400."""
    return _refuse(request, 400, "bad_input", BAD_REQUEST) or defaults.bad_request(request, exception)


def answer_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 404."""
    return _refuse(request, 404, "not_found", NOT_FOUND) or defaults.page_not_found(request, exception)


def answer_broken(request: HttpRequest) -> HttpResponse:
    """Answer 500, or 503 where the database is away or full; the error itself is in the log."""
    error = sys.exc_info()[1]
    if isinstance(error, OperationalError | InterfaceError):
        return _answer_unavailable(request, FULL if is_full(error) else AWAY)
    return _refuse(request, 500, "broken", BROKEN) or defaults.server_error(request)


def is_full(error: BaseException) -> bool:
    """Tell whether a database refused for want of room, in the words of SQLite and PostgreSQL."""
    return any(words in str(error) for words in ("disk is full", "No space left", "could not extend file"))


def _answer_unavailable(request: HttpRequest, message: str) -> HttpResponse:
    wants_json = request.get_preferred_type(["text/html", "application/json"]) == "application/json"
    if wants_json or request.path_info.startswith("/api/"):
        answer: HttpResponse = JsonResponse({"code": "unavailable", "message": message, "fields": {}}, status=503)
    else:
        answer = HttpResponse(render_to_string("503.html", {"message": message}), status=503)
    answer.headers["Retry-After"] = "10"
    return answer


def _refuse(request: HttpRequest, status: int, code: str, message: str) -> HttpResponse | None:
    if not request.path_info.startswith("/api/"):
        return None
    return JsonResponse({"code": code, "message": message, "fields": {}}, status=status)
