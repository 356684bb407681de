"""Pages of activities: the list, and one activity."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Activity, Anomaly, Constraint, CorrectiveAction, ProcedureUse
from anomalies.reads.activity_lists import HEADER, ActivityFilter, count_tabs, find_activities, write_row
from anomalies.reads.history import read_history
from anomalies.reads.lessons.offers import read_offers
from config.kit.csv import write_csv
from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest


@require_GET
def list_activities(request: PersonRequest) -> HttpResponse:
    """Show the activities that the filter lets through."""
    require(request.user, "activity.view")
    wanted = ActivityFilter.read(request.GET.dict())
    context = {
        "page": paginate(request, find_activities(request.user, wanted)),
        "wanted": wanted,
        "tabs": count_tabs(request.user),
        "kinds": Activity.Kind.choices,
        "may_plan": allows(request.user, "activity.plan"),
    }
    return page_or_fragment(request, "anomalies/activities/list.html", "anomalies/activities/_table.html", context)


@require_GET
def export_activities(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out every row of the filter."""
    require(request.user, "activity.view")
    rows = find_activities(request.user, ActivityFilter.read(request.GET.dict()))
    return write_csv("activities", HEADER, map(write_row, rows.iterator(500)))


@require_GET
def show_activity(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Show one activity: the plan, who and what takes part, what holds it, what went wrong, lessons that bear on it."""
    visible = Activity.objects.visible_to(request.user).select_related("lead")
    activity = get_object_or_404(visible, pk=activity_id)
    uses = ProcedureUse.objects.filter(activity=activity, active=True)
    context = {
        "activity": activity,
        "crew": activity.crew.filter(active=True).select_related("person"),
        "hardware": activity.hardware_uses.filter(active=True).select_related("item__type"),
        "procedures": uses.select_related("procedure"),
        "constraints": Constraint.objects.visible_to(request.user)
        .on_activity(activity)
        .select_related("anomaly", "hardware_type", "activity")
        .distinct(),
        "anomalies": Anomaly.objects.visible_to(request.user).filter(activity=activity),
        "actions": CorrectiveAction.objects.visible_to(request.user).filter(needed_before=activity),
        "lessons": read_offers(activity) if allows(request.user, "anomaly.view") else None,
        "events": read_history(activity, parts=[activity.crew.all(), activity.hardware_uses.all(), uses]),
    }
    return render(request, "anomalies/activities/page.html", context)
