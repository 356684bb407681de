"""The brief of an activity: a page to read from, and a file."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Activity
from anomalies.reads.brief.build import read_brief
from anomalies.reads.brief.paper import print_brief
from config.kit.downloads import name_file, send_download
from config.kit.permissions import require
from config.kit.requests import PersonRequest


@require_GET
def show_brief(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Show the brief as the records have it now, to be read aloud or whole; every sentence leads to its records."""
    activity, is_whole = _find(request, activity_id), "whole" in request.GET
    brief = read_brief(activity)
    context = {"activity": activity, "brief": brief if is_whole else brief.spoken, "is_whole": is_whole}
    return render(request, "anomalies/brief/page.html", context)


@require_GET
def hand_out_brief(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Hand out the brief as PDF."""
    activity = _find(request, activity_id)
    content = print_brief(read_brief(activity), paper=request.GET.get("paper", "a4"))
    name = f"brief-{name_file(activity.title, 'activity')}.pdf"
    return send_download(content, name=name, media_type="application/pdf")


def _find(request: PersonRequest, activity_id: int) -> Activity:
    activity = get_object_or_404(Activity.objects.visible_to(request.user).select_related("lead"), pk=activity_id)
    require(request.user, "readiness_review.view")
    return activity
