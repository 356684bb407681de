"""A person's notices, and what they want by e-mail."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from anomalies.models import MailChoice, PersonalNotice
from anomalies.services.notices import choose_mail, mark_seen
from config.kit.paging import paginate
from config.kit.requests import PersonRequest


@require_GET
def list_notices(request: PersonRequest) -> HttpResponse:
    """Show the person's notices, the newest first."""
    mine = PersonalNotice.objects.visible_to(request.user)
    chosen = MailChoice.objects.filter(person=request.user).first() or MailChoice(person=request.user)
    context = {
        "page": paginate(request, mine),
        "unseen": mine.unseen().count(),
        "newest": mine.values_list("sequence", flat=True).first() or 0,
        "chosen": chosen.choice,
        "choices": MailChoice.Choice.choices,
    }
    return render(request, "anomalies/notices/list.html", context)


@require_POST
def see_notices(request: PersonRequest) -> HttpResponse:
    """Mark those as seen that the page showed, and none that came since."""
    up_to = request.POST.get("up_to", "")
    if up_to.isdecimal() and len(up_to) < 19:
        mark_seen(actor=request.user, up_to=int(up_to))
    return redirect("anomalies:notices")


@require_POST
def choose(request: PersonRequest) -> HttpResponse:
    """Keep what the person wants by e-mail."""
    choose_mail(actor=request.user, choice=request.POST.get("choice", ""))
    messages.success(request, "Kept.")
    return redirect("anomalies:notices")
