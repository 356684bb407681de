"""The dossier: everything about one anomaly on one page; and the whole of its history."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

import anomalies.web.sections  # noqa: F401  # enters the sections
from anomalies.models import Anomaly
from anomalies.reads.history import read_history
from anomalies.reads.investigation_report import print_anomaly
from anomalies.web.dossier import find_parts, read_sections
from config.kit.downloads import send_download
from config.kit.requests import PersonRequest

SHOWN_WITH = ("activity", "lead", "recorded_by", "unexplained_by", "closed_by")


@require_GET
def show_dossier(request: PersonRequest, number: str) -> HttpResponse:
    """Show all sections."""
    anomaly = find_anomaly(request, number)
    context = {"anomaly": anomaly, "sections": read_sections(anomaly, request.user)}
    return render(request, "anomalies/dossier/page.html", context)


@require_GET
def show_history(request: PersonRequest, number: str) -> HttpResponse:
    """Show every entry of the ledger about the anomaly and all that belongs to it, oldest first."""
    anomaly = find_anomaly(request, number)
    context = {"anomaly": anomaly, "events": read_history(anomaly, parts=find_parts(anomaly))}
    return render(request, "anomalies/dossier/history.html", context)


@require_GET
def hand_out_report(request: PersonRequest, number: str) -> HttpResponse:
    """Hand out the report of the investigation as PDF."""
    anomaly = find_anomaly(request, number)
    content = print_anomaly(anomaly, paper=request.GET.get("paper", "a4"))
    return send_download(content, name=f"report-{anomaly.number}.pdf", media_type="application/pdf")


def find_anomaly(request: PersonRequest, number: str) -> Anomaly:
    """Return the anomaly if the person may see it, else answer 404."""
    visible = Anomaly.objects.visible_to(request.user).select_related(*SHOWN_WITH)
    return get_object_or_404(visible, number=number)
