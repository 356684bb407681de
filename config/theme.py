"""Light, dark, or as the device says: kept in a cookie and written into the page, so nothing flickers."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

COOKIE = "theme"
THEMES = {"auto": "As the device", "light": "Light", "dark": "Dark"}
YEAR = 365 * 24 * 3600


def theme(request: HttpRequest) -> dict[str, Any]:
    """Context of every page: the theme that was chosen, and the choices."""
    chosen = request.COOKIES.get(COOKIE, "auto")
    return {"theme": chosen if chosen in THEMES else "auto", "themes": THEMES}


@login_not_required
@require_POST
def choose_theme(request: HttpRequest) -> HttpResponse:
    """Keep the choice for a year and go back to the page."""
    back = request.POST.get("next", "/")
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure()):
        back = "/"
    response = HttpResponseRedirect(back)
    chosen = request.POST.get("theme", "auto")
    if chosen in THEMES:
        response.set_cookie(COOKIE, chosen, max_age=YEAR, samesite="Lax", httponly=True, secure=request.is_secure())
    return response
