"""Briefs that are shared by an address: the list of an activity's, and the page that strangers read."""

from __future__ import annotations

import json

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from anomalies.forms.brief_shares import ShareBriefForm
from anomalies.models import Activity, BriefShare
from anomalies.services.brief_shares import open_share
from config.kit.permissions import require
from config.kit.requests import PersonRequest

UNSEEN = {"Cache-Control": "no-store", "Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex, nofollow"}
"""Headers of what strangers read: kept nowhere, found by nobody, and its address told to no other site."""


@never_cache
@require_http_methods(["GET", "POST"])
def list_shares(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Show the shared copies of a brief, or make one: only the page that answers ever shows its address."""
    activity = get_object_or_404(Activity.objects.visible_to(request.user), pk=activity_id)
    require(request.user, "brief_share.make" if request.method == "POST" else "readiness_review.view")
    blank = BriefShare(activity=activity)
    form = ShareBriefForm(request.POST if request.method == "POST" else None, record=blank, actor=request.user)
    made, secret = (form.perform() or (None, "")) if request.method == "POST" else (None, "")
    context = {
        "activity": activity,
        "shares": activity.brief_shares.visible_to(request.user).select_related("made_by", "last_use"),
        "form": ShareBriefForm(record=blank, actor=request.user) if made else form,
        "made": made,
        "address": request.build_absolute_uri(reverse("anomalies:shared_brief", args=(secret,))) if made else "",
    }
    return render(request, "anomalies/brief/shares.html", context, status=form.status if form.is_bound else 200)


@login_not_required
@require_GET
def show_shared(request: HttpRequest, secret: str) -> HttpResponse:
    """Show the copy to whoever has the address; one answer for all that opens nothing."""
    share = open_share(secret)
    template = "anomalies/shared/brief.html" if share else "anomalies/shared/nothing.html"
    context = {"share": share, "brief": json.loads(share.document) if share else None}
    response = render(request, template, context, status=200 if share else 404)
    for name, value in UNSEEN.items():
        response.headers[name] = value
    return response
