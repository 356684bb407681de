"""Pages of the board's meetings: the list, one meeting, its minutes as a file."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import BoardMeeting
from anomalies.reads.meetings.page import list_meetings, read_meeting
from anomalies.reads.meetings.paper import print_minutes
from config.kit.downloads import name_file, send_download
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest


@require_GET
def list_board_meetings(request: PersonRequest) -> HttpResponse:
    """Show all meetings, the latest first."""
    require(request.user, "anomaly.view")
    may_plan = allows(request.user, "board_meeting.plan")
    context = {"page": paginate(request, list_meetings(request.user)), "may_plan": may_plan}
    return render(request, "anomalies/meetings/list.html", context)


@require_GET
def show_meeting(request: PersonRequest, meeting_id: int) -> HttpResponse:
    """Show one meeting: agenda, decisions, minutes, people."""
    view = read_meeting(_find(request, meeting_id))
    agenda, settled, minutes = view.agenda, view.settled, view.minutes
    context = {
        "meeting": view.meeting,
        "view": view,
        "groups": agenda.groups_for(request.user) if agenda else [],
        "settled": [group for group in settled.groups_for(request.user) if group.items] if settled else [],
        "chapters": minutes.chapters_for(request.user) if minutes else [],
    }
    return render(request, "anomalies/meetings/page.html", context)


@require_GET
def hand_out_minutes(request: PersonRequest, meeting_id: int) -> HttpResponse:
    """Hand out the minutes as PDF."""
    meeting = _find(request, meeting_id)
    content = print_minutes(meeting, request.user, paper=request.GET.get("paper", "a4"))
    return send_download(
        content, name=f"minutes-{name_file(meeting.title, 'meeting')}.pdf", media_type="application/pdf"
    )


def _find(request: PersonRequest, meeting_id: int) -> BoardMeeting:
    rows = BoardMeeting.objects.visible_to(request.user).select_related("chair")
    return get_object_or_404(rows, pk=meeting_id)
