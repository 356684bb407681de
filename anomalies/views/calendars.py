"""A person's calendar: the addresses it is read at, and the file itself."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import conditional_page, require_GET, require_http_methods

from anomalies.forms.calendar_keys import MakeKeyForm
from anomalies.models import CalendarKey
from anomalies.reads.calendar_file import MEDIA_TYPE, write_calendar
from anomalies.reads.dates import read_dates
from anomalies.services.calendar_keys import use_key
from config.kit.requests import PersonRequest

HEADERS = {"Cache-Control": "private, no-cache", "Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex, nofollow"}
NOTHING = "This address opens no calendar: it is wrong or was revoked, or its owner's account is closed.\n"


@never_cache
@require_http_methods(["GET", "POST"])
def list_keys(request: PersonRequest) -> HttpResponse:
    """Show where the person's calendar is read, or make an address: only the page that answers ever shows it."""
    form = MakeKeyForm(request.POST if request.method == "POST" else None, record=CalendarKey(), actor=request.user)
    made, secret = (form.perform() or (None, "")) if form.is_bound else (None, "")
    context = {
        "keys": CalendarKey.objects.visible_to(request.user).select_related("last_use"),
        "form": MakeKeyForm(record=CalendarKey(), actor=request.user) if made else form,
        "made": made,
        "address": request.build_absolute_uri(reverse("anomalies:calendar_feed", args=(secret,))) if made else "",
    }
    return render(request, "anomalies/calendar/keys.html", context, status=form.status if form.is_bound else 200)


@login_not_required
@require_GET
@conditional_page
def hand_out_calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Hand out what the owner of the key may see now."""
    key = use_key(secret)
    if key is None:
        return HttpResponse(NOTHING, status=404, content_type="text/plain; charset=utf-8", headers=HEADERS)
    content = write_calendar(f"Siftwood: {key.get_reach_display().lower()}", read_dates(key.owner, key.reach))
    return HttpResponse(content, content_type=MEDIA_TYPE, headers=HEADERS)
