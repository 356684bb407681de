"""What is answered where no view is reached, or one broke: JSON below /api/, a page elsewhere."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views import defaults

NOT_FOUND = "There is nothing at this address."
BROKEN = "Something broke on our side; what was sent may not have been stored."
BAD_REQUEST = "The request isn't put together as it should be."


def answer_bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 400."""
    return _refuse(request, 400, "bad_input", BAD_REQUEST) or defaults.bad_request(request, exception)


def answer_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 404."""
    return _refuse(request, 404, "not_found", NOT_FOUND) or defaults.page_not_found(request, exception)


def answer_broken(request: HttpRequest) -> HttpResponse:
    """Answer 500; the error itself is in the log."""
    return _refuse(request, 500, "broken", BROKEN) or defaults.server_error(request)


def _refuse(request: HttpRequest, status: int, code: str, message: str) -> HttpResponse | None:
    if not request.path_info.startswith("/api/"):
        return None
    return JsonResponse({"code": code, "message": message, "fields": {}}, status=status)
