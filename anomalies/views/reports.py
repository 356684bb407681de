"""The quick form, drafts, and the hardware that its field offers."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from anomalies.forms.reports import DraftForm, ReportForm
from anomalies.models import Anomaly
from anomalies.reads.lessons.offers import read_offers
from anomalies.states import AnomalyState
from anomalies.views.moves import draft_key, finish
from anomalies.web.hardware_picker import find_options, read_picked
from config.kit.permissions import require
from config.kit.requests import PersonRequest


@require_http_methods(["GET", "POST"])
def report(request: PersonRequest) -> HttpResponse:
    """Report what was seen, or keep it as a draft."""
    require(request.user, "anomaly.report")
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    return _answer(request, ReportForm(*sent, record=Anomaly(recorded_by=request.user), actor=request.user))


@require_http_methods(["GET", "POST"])
def show_draft(request: PersonRequest, record_id: int) -> HttpResponse:
    """Go on with a draft; one that was reported since has its dossier."""
    own = Anomaly.objects.visible_to(request.user).select_related("activity", "recorded_by")
    anomaly = get_object_or_404(own, pk=record_id)
    if anomaly.number:
        return redirect(anomaly)
    if anomaly.state == AnomalyState.DISCARDED:
        return render(request, "anomalies/report/discarded.html", {"anomaly": anomaly})
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    return _answer(request, DraftForm(*sent, record=anomaly, actor=request.user))


@require_GET
def offer_hardware(request: PersonRequest) -> HttpResponse:
    """Show the items that hold the words, with those ticked before."""
    options = find_options(request.user, read_picked(request.GET, "hardware"))
    context = {"options": options, "name": "hardware"}
    return render(request, "anomalies/widgets/_hardware_options.html", context)


def _say_lessons(anomaly: Anomaly) -> str:
    """Return that lessons are offered for what was just reported; nothing for a draft, or where none is."""
    count = read_offers(anomaly).count if anomaly.number else 0
    if not count:
        return ""
    return (
        "An earlier lesson may bear on it: see Lessons." if count == 1 else f"{count} earlier lessons may bear on it."
    )


def _answer(request: PersonRequest, form: ReportForm) -> HttpResponse:
    anomaly = form.perform() if form.is_bound else None
    if anomaly is not None:
        return finish(request, f"{form.said} {_say_lessons(anomaly)}".strip(), anomaly.get_absolute_url())
    drafts = Anomaly.objects.drafts_of(request.user).exclude(pk=form.record.pk)
    context = {"form": form, "anomaly": form.record, "drafts": drafts, "draft": draft_key(request)}
    return render(request, "anomalies/report/form.html", context, status=form.status if form.is_bound else 200)
