"""Pages of corrective actions: the list, and one action."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.clock import now
from anomalies.models import CorrectiveAction, SignOff
from anomalies.reads.actions import (
    HEADER,
    ActionFilter,
    count_tabs,
    find_actions,
    list_activities,
    list_owners,
    write_row,
)
from anomalies.reads.causes import with_support
from anomalies.reads.effectiveness import CONFIDENCE, read_watch
from anomalies.reads.effects import list_action_parts, read_effects
from anomalies.reads.history import read_history
from anomalies.reads.recurrence_rates import CONFIDENCES, read_confidence, read_rates
from anomalies.web.explained import find_explained
from config.kit.csv import write_csv
from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import require
from config.kit.requests import PersonRequest

PEOPLE = ("owner", "doer", "verifier", "proposed_by")
SHOWN_WITH = ("anomaly", "needed_before", "removed_item__type", "installed_item__type", *PEOPLE)


@require_GET
def list_actions(request: PersonRequest) -> HttpResponse:
    """Show the actions that the filter lets through."""
    require(request.user, "action.view")
    wanted = ActionFilter.read(request.GET.dict())
    context = {
        "page": paginate(request, find_actions(request.user, wanted)),
        "wanted": wanted,
        "tabs": count_tabs(request.user),
        "kinds": CorrectiveAction.Kind.choices,
        "owners": list_owners(request.user),
        "activities": list_activities(request.user),
        "today": now().date(),
    }
    return page_or_fragment(request, "anomalies/actions/list.html", "anomalies/actions/_table.html", context)


@require_GET
def export_actions(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out all rows of the filter."""
    require(request.user, "action.view")
    rows = find_actions(request.user, ActionFilter.read(request.GET.dict()))
    return write_csv("corrective-actions", HEADER, map(write_row, rows.iterator(500)))


@require_GET
def show_action(request: PersonRequest, number: str) -> HttpResponse:
    """Show one action: what it is for, what was done, who verified it, whether it works."""
    visible = CorrectiveAction.objects.visible_to(request.user).select_related(
        "anomaly",
        "owner",
        "doer",
        "verifier",
        "proposed_by",
        "needed_before",
        "removed_item__type",
        "installed_item__type",
    )
    action = get_object_or_404(visible, number=number)
    addressed = action.addresses.filter(active=True).values("cause")
    asked = read_confidence(request.GET.get("confidence", ""))
    context = {
        "action": action,
        "causes": list(with_support(action.anomaly.causes.filter(pk__in=addressed))),
        "shown_by": list(action.shown_by.filter(active=True).select_related("evidence")),
        "revisions": list(action.procedure_revisions.select_related("procedure")),
        "watch": read_watch(action),
        "confidence": CONFIDENCE,
        "rates": read_rates(action, asked),
        "confidences": CONFIDENCES,
        "confidence_asked": asked,
        "today": now().date(),
        "signatures": list(SignOff.objects.of(action)),
        "effects": read_effects(action),
        "events": read_history(action, parts=list_action_parts(action)),
    }
    return render(request, "anomalies/actions/page.html", context)


@require_GET
def explain_rate(request: PersonRequest, number: str, figure: str) -> HttpResponse:
    """Show the formula, the numbers, the assumptions and the source of a figure of an action's effectiveness."""
    visible = CorrectiveAction.objects.visible_to(request.user).select_related("anomaly")
    action = get_object_or_404(visible, number=number)
    rates = read_rates(action, read_confidence(request.GET.get("confidence", "")))
    shown = find_explained("action", figure, rates, request.GET.get("of", ""))
    return render(request, "anomalies/explained.html", {"back": action, "shown": shown})
