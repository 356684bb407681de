"""The quick-response cards of an activity: a page to look at and print, and a file."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Activity
from anomalies.reads.card_sheets import PAPERS, CardSet, check_paper, print_cards, read_cards
from config.kit.downloads import name_file, send_download
from config.kit.requests import PersonRequest


@require_GET
def show_cards(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Show every card of an activity, as it will be on paper."""
    cards, paper = _read(request, activity_id)
    context = {"cards": cards, "sheets": cards.sheets(paper), "paper": paper, "papers": PAPERS.items()}
    return render(request, "anomalies/cards/page.html", context)


@require_GET
def hand_out_cards(request: PersonRequest, activity_id: int) -> HttpResponse:
    """Hand out the sheets as PDF."""
    cards, paper = _read(request, activity_id)
    name = f"cards-{name_file(cards.activity.title, 'activity')}.pdf"
    return send_download(print_cards(cards, paper), name=name, media_type="application/pdf")


def _read(request: PersonRequest, activity_id: int) -> tuple[CardSet, str]:
    activity = get_object_or_404(Activity.objects.visible_to(request.user), pk=activity_id)
    return read_cards(request.user, activity), check_paper(request.GET.get("paper", "a4"))
