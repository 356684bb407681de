"""The page of an investigation, and the explanations of its figures."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_GET

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.charts.beliefs import draw_way
from anomalies.models import Investigation
from anomalies.reads.history import read_history
from anomalies.reads.investigations import InvestigationView, read_differences, read_investigation
from anomalies.web.explained import find_explained
from anomalies.web.sections.fault_tree import list_parts
from config.kit.htmx import page_or_fragment
from config.kit.requests import PersonRequest

ORDERS = {"hours": "bits per working hour", "cost": "bits per unit of cost", "bits": "bits alone"}
PAGE, INSPECTIONS = "anomalies/investigation/page.html", "anomalies/investigation/_inspections.html"


@require_GET
def show_investigation(request: PersonRequest, number: str) -> HttpResponse:
    """Show what is known of every event, what follows, and what to look at next."""
    investigation = _find(request, number)
    order = request.GET.get("rank", "hours")
    view = read_investigation(investigation, order=order if order in ORDERS else "hours")
    context = {
        "anomaly": investigation.anomaly,
        "investigation": investigation,
        "view": view,
        "differences": read_differences(view),
        "orders": ORDERS,
        "order": order if order in ORDERS else "hours",
        "way": draw_investigation_way(view),
        "events": read_history(investigation, parts=list(list_parts(investigation.anomaly))),
    }
    return page_or_fragment(request, PAGE, INSPECTIONS, context)


@require_GET
def explain_figure(request: PersonRequest, number: str, figure: str) -> HttpResponse:
    """Show the formula, the numbers, the assumptions and the source of one figure."""
    investigation = _find(request, number)
    view = read_investigation(investigation)
    shown = find_explained("investigation", figure, view, request.GET.get("of", ""))
    context = {"anomaly": investigation.anomaly, "back": investigation, "shown": shown}
    return render(request, "anomalies/explained.html", context)


def draw_investigation_way(view: InvestigationView) -> SafeString:
    """Return the chart of how the leading events moved; empty before there's evidence."""
    if view.posterior is None:
        return mark_safe("")
    names = [row.part.name for row in view.events if row.moved is not None]
    return mark_safe(draw_way(view.posterior, names, view.labels))  # noqa: S308  # words are escaped


def _find(request: PersonRequest, number: str) -> Investigation:
    rows = Investigation.objects.visible_to(request.user).select_related(
        "anomaly__lead", "revision__tree", "origin__tree", "opened_by", "concluded_by"
    )
    return get_object_or_404(rows.defer("revision__source", "origin__source"), anomaly__number=number)
