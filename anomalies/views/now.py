"""The start page: what needs me."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from anomalies.clock import now
from anomalies.reads.now import read_blocks, read_newest, read_next_activity
from config.kit.permissions import allows
from config.kit.requests import PersonRequest


@require_GET
def show_now(request: PersonRequest) -> HttpResponse:
    """Show what needs the person, the next activity, and what changed last."""
    context = {
        "blocks": read_blocks(request.user),
        "next": read_next_activity(request.user),
        "newest": read_newest(request.user),
        "may_report": allows(request.user, "anomaly.report"),
        "may_plan": allows(request.user, "activity.plan"),
        "may_see": allows(request.user, "anomaly.view"),
        "today": now().date(),
        "at": now(),
    }
    return render(request, "anomalies/now/page.html", context)
