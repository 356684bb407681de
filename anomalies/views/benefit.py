"""The page of what the actions of an anomaly bring."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.forms.effects import BudgetForm
from anomalies.models import Investigation
from anomalies.reads.benefit import choose_within, read_benefit_page
from anomalies.views.dossier import find_anomaly
from anomalies.web.explained import find_explained
from config.kit.htmx import page_or_fragment
from config.kit.requests import PersonRequest
from faulttree.facade import Limits

PAGE, CHOICE = "anomalies/benefit/page.html", "anomalies/benefit/_choice.html"
SHOWN = Investigation.objects.select_related("revision__tree", "origin__tree", "tree").defer(
    "revision__source", "origin__source"
)
LIMITS = ("cost", "mass", "crew_hours", "lead_days")


@require_GET
def show_benefit(request: PersonRequest, number: str) -> HttpResponse:
    """Show what each action brings and, where limits are given, the best set within them."""
    anomaly = find_anomaly(request, number)
    investigation = SHOWN.filter(anomaly=anomaly).first()
    context: dict[str, Any] = {"anomaly": anomaly, "investigation": investigation}
    if investigation is not None:
        investigation.anomaly = anomaly
        context |= gather_benefit(investigation, request.GET)
    return page_or_fragment(request, PAGE, CHOICE, context)


@require_GET
def explain_benefit(request: PersonRequest, number: str, figure: str) -> HttpResponse:
    """Show the formula, the numbers, the assumptions and the source of one figure."""
    anomaly = find_anomaly(request, number)
    investigation = get_object_or_404(SHOWN, anomaly=anomaly)
    investigation.anomaly = anomaly
    shown = find_explained("benefit", figure, read_benefit_page(investigation), request.GET.get("of", ""))
    return render(request, "anomalies/explained.html", {"back": anomaly, "shown": shown})


def gather_benefit(investigation: Investigation, asked: QueryDict) -> dict[str, Any]:
    """Return what the page shows of an investigation; limits are looked at once the form was sent."""
    view = read_benefit_page(investigation)
    sent = "within" in asked
    form = BudgetForm(asked if sent else None, actions=view.plan.actions)
    if sent and view.weighed is not None and form.is_valid():
        limits = Limits(**{name: form.cleaned_data[name] for name in LIMITS})
        choose_within(view, limits, form.cleaned_data["must"])
    return {"view": view, "form": form, "chart": mark_safe(view.chart)}  # noqa: S308  # words are escaped
