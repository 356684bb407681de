"""Pages of readiness: what is to come, one activity, a round that ended, what kinds of activity ask for."""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Activity, ReadinessSnapshot, Requirement, StandardPosition
from anomalies.reads.readiness.overview import list_coming
from anomalies.reads.readiness.page import read_readiness
from config.kit.permissions import require
from config.kit.requests import PersonRequest


@require_GET
def list_readiness(request: PersonRequest) -> HttpResponse:
    """Show how every activity to come stands."""
    require(request.user, "readiness_review.view")
    return render(request, "anomalies/readiness/list.html", {"rows": list_coming(request.user)})


@require_GET
def show_readiness(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Show one activity: verdict, poll, list, waivers, what differs from the last one, the rounds that ended."""
    activity = get_object_or_404(Activity.objects.visible_to(request.user).select_related("lead"), pk=activity_id)
    require(request.user, "readiness_review.view")
    view = read_readiness(activity, earlier=request.GET.get("from", ""))
    return render(request, "anomalies/readiness/page.html", {"activity": activity, "view": view, "review": view.review})


@require_GET
def show_snapshot(request: PersonRequest, activity_id: int, round_number: int) -> HttpResponse:
    """Show what a round ended with, as it was signed."""
    rows = ReadinessSnapshot.objects.visible_to(request.user).select_related("review__activity", "taken_by")
    snapshot = get_object_or_404(rows, review__activity=activity_id, round=round_number)
    require(request.user, "readiness_review.view")
    document: dict[str, Any] = json.loads(snapshot.document)
    context = {"snapshot": snapshot, "document": document, "activity": snapshot.review.activity}
    return render(request, "anomalies/readiness/snapshot.html", context)


@require_GET
def list_requirements(request: PersonRequest) -> HttpResponse:
    """Show what kinds of activity ask for, and the positions of their polls."""
    require(request.user, "activity.view")
    rows = Requirement.objects.visible_to(request.user).select_related("hardware_type")
    context = {"rows": rows, "positions": StandardPosition.objects.filter(active=True)}
    return render(request, "anomalies/readiness/requirements.html", context)
