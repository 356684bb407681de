"""Pages of the log: the list, its export, and saved views."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse, HttpResponseRedirect, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from anomalies.models import SavedView
from anomalies.reads.log import HEADER, LogFilter, find_log, read_choices, write_row
from anomalies.services.saved_views import delete_view, rename_view, save_view
from anomalies.web.slices import read_slice
from config.kit.csv import write_csv
from config.kit.errors import BadInput
from config.kit.htmx import page_or_fragment
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest


@require_GET
def list_log(request: PersonRequest) -> HttpResponse:
    """Show the anomalies that the filter lets through."""
    require(request.user, "anomaly.view")
    wanted = LogFilter.read(request.GET.dict())
    rows = find_log(request.user, wanted)
    context = {
        "slice": read_slice(request, rows),
        "wanted": wanted,
        "may_report": allows(request.user, "anomaly.report"),
        "views": SavedView.objects.visible_to(request.user).select_related("owner"),
        **read_choices(),
    }
    return page_or_fragment(request, "anomalies/log/list.html", "anomalies/log/_table.html", context)


@require_GET
def export_log(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out every row of the filter."""
    require(request.user, "anomaly.view")
    rows = find_log(request.user, LogFilter.read(request.GET.dict()))
    return write_csv("anomalies", HEADER, map(write_row, rows.iterator(500)))


@require_POST
def keep_view(request: PersonRequest) -> HttpResponse:
    """Keep the filter under a name."""
    query = LogFilter.read({key: str(value) for key, value in request.POST.items()}).query
    try:
        view = save_view(
            actor=request.user, name=request.POST.get("name", ""), query=query, is_shared="is_shared" in request.POST
        )
        messages.success(request, f"Kept as “{view}”.")
    except BadInput as refused:
        messages.error(request, refused.fields.get("name", [refused.message])[0])
    return HttpResponseRedirect(f"{reverse('anomalies:log')}?{query}")


@require_POST
def change_view(request: PersonRequest, view_id: int) -> HttpResponse:
    """Rename or delete a view."""
    view = get_object_or_404(visible_views(request), pk=view_id)
    if "delete" in request.POST:
        delete_view(view_id=view.pk, actor=request.user)
        messages.success(request, f"“{view}” is deleted.")
    else:
        try:
            rename_view(view_id=view.pk, actor=request.user, name=request.POST.get("name", ""))
        except BadInput as refused:
            messages.error(request, refused.fields.get("name", [refused.message])[0])
    return HttpResponseRedirect(f"{reverse('anomalies:log')}?{view.query}")


def visible_views(request: PersonRequest) -> QuerySet[SavedView]:
    """Return the views that the person may use."""
    return SavedView.objects.visible_to(request.user)
