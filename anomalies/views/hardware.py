"""Pages of hardware: the list, one item, one type."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Activity, Anomaly, CorrectiveAction, HardwareItem, HardwareType
from anomalies.reads.hardware import HEADER, HardwareFilter, find_items, list_types, read_parts, read_way_up, write_row
from anomalies.reads.history import read_history
from anomalies.states import HardwareState
from config.kit.csv import write_csv
from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest


@require_GET
def list_hardware(request: PersonRequest) -> HttpResponse:
    """Show the items that the filter lets through."""
    require(request.user, "hardware.view")
    wanted = HardwareFilter.read(request.GET.dict())
    context = {
        "page": paginate(request, find_items(request.user, wanted)),
        "wanted": wanted,
        "states": HardwareState.choices,
        "types": list_types(request.user),
        "may_add": allows(request.user, "hardware.add"),
    }
    return page_or_fragment(request, "anomalies/hardware/list.html", "anomalies/hardware/_table.html", context)


@require_GET
def export_hardware(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out every row of the filter."""
    require(request.user, "hardware.view")
    rows = find_items(request.user, HardwareFilter.read(request.GET.dict()))
    return write_csv("hardware", HEADER, map(write_row, rows.iterator(500)))


@require_GET
def show_item(request: PersonRequest, item_id: int) -> HttpResponse:
    """Show one item: where it is, what it is part of, where it has been, what happened to it."""
    visible = HardwareItem.objects.visible_to(request.user).select_related("type", "installed_in__type")
    item = get_object_or_404(visible, pk=item_id)
    concerned = item.anomaly_concerns.filter(active=True).values("anomaly")
    used = item.activity_uses.filter(active=True).values("activity")
    replaced = CorrectiveAction.objects.visible_to(request.user)
    context = {
        "item": item,
        "way": read_way_up(item),
        "parts": read_parts(item),
        "installations": item.installations.select_related("parent__type"),
        "anomalies": Anomaly.objects.visible_to(request.user).filter(pk__in=concerned),
        "activities": Activity.objects.visible_to(request.user).filter(pk__in=used),
        "actions": replaced.filter(removed_item=item) | replaced.filter(installed_item=item),
        "events": read_history(item, parts=[item.installations.all()]),
    }
    return render(request, "anomalies/hardware/item.html", context)


@require_GET
def show_type(request: PersonRequest, type_id: int) -> HttpResponse:
    """Show one type: its items, and the constraints on it."""
    kind = get_object_or_404(HardwareType.objects.visible_to(request.user), pk=type_id)
    concerned = Anomaly.objects.visible_to(request.user).filter(
        hardware_concerned__item__type=kind, hardware_concerned__active=True
    )
    context = {
        "type": kind,
        "items": kind.items.select_related("type", "installed_in__type"),
        "constraints": kind.constraints.visible_to(request.user).select_related("anomaly").order_by("state", "pk"),
        "anomalies": concerned.distinct(),
        "modes": kind.failure_modes.visible_to(request.user),
        "events": read_history(kind, parts=[kind.exposure.all()]),
    }
    return render(request, "anomalies/hardware/type.html", context)
