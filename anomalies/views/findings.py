"""Pages of one finding and of one cause."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Cause, Finding, SignOff
from anomalies.reads.causes import find_in_chain, read_why_chain
from anomalies.reads.findings import read_board, view_finding, with_positions
from anomalies.reads.history import read_history
from config.kit.requests import PersonRequest


@require_GET
def show_finding(request: PersonRequest, number: str, position: int) -> HttpResponse:
    """Show a finding with every position, signature and change."""
    visible = with_positions(Finding.objects.visible_to(request.user))
    finding = get_object_or_404(visible, anomaly__number=number, position=position)
    context = {
        "anomaly": finding.anomaly,
        "view": view_finding(finding, read_board(finding.anomaly)),
        "signatures": list(SignOff.objects.of(finding)),
        "events": read_history(finding, parts=[finding.concurrences.all(), finding.rests_on.all()]),
    }
    return render(request, "anomalies/findings/page.html", context)


@require_GET
def show_cause(request: PersonRequest, number: str, position: int) -> HttpResponse:
    """Show a cause with all below it in the why-chain, and what it rests on."""
    visible = Cause.objects.visible_to(request.user).select_related("anomaly")
    cause = get_object_or_404(visible, anomaly__number=number, position=position)
    way = find_in_chain(read_why_chain(cause.anomaly), cause)
    context = {
        "anomaly": cause.anomaly,
        "view": way[-1],
        "way": way,
        "events": read_history(cause, parts=[cause.rests_on.all(), cause.judged_on.all(), cause.addressed_by.all()]),
    }
    return render(request, "anomalies/causes/page.html", context)
