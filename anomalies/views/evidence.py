"""The page of a piece of evidence, and the one door through which its file leaves."""

from __future__ import annotations

from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from anomalies.models import Evidence
from anomalies.reads.evidence import count_people, find_openings
from anomalies.reads.evidence_page import read_evidence_page
from anomalies.services.evidence import open_evidence
from anomalies.web.files import send_file
from config.kit.htmx import page_or_fragment, wants_fragment
from config.kit.paging import paginate
from config.kit.requests import PersonRequest


@require_GET
def show_evidence(request: PersonRequest, number: str, position: int) -> HttpResponse:
    """Show everything about it but its file; a picture only when asked for, because showing is opening.

    The fragment is the list of who opened it.
    """
    evidence = find_evidence_at(request, number, position)
    context = {
        "evidence": evidence,
        "openings": paginate(request, find_openings(evidence), name="openings"),
        "people": count_people(evidence),
    }
    if not wants_fragment(request):
        is_shown = "show" in request.GET and evidence.is_picture
        context |= {"anomaly": evidence.anomaly, "here": read_evidence_page(evidence), "is_shown": is_shown}
    return page_or_fragment(request, "anomalies/evidence/detail.html", "anomalies/evidence/_custody.html", context)


@require_GET
def hand_out_file(request: PersonRequest, number: str, position: int) -> FileResponse:
    """Hand out the file, once it's on record that this person opened it."""
    evidence = find_evidence_at(request, number, position)
    evidence, file = open_evidence(evidence_id=evidence.pk, actor=request.user)
    return send_file(evidence, file, is_shown="show" in request.GET)


def find_evidence_at(request: PersonRequest, number: str, position: int) -> Evidence:
    """Return the evidence if the person may see it, else answer 404."""
    visible = Evidence.objects.visible_to(request.user).select_related("anomaly", "added_by", "series")
    return get_object_or_404(visible, anomaly__number=number, position=position)
