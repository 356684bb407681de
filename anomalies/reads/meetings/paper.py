"""The minutes on paper."""

from __future__ import annotations

from django.template.loader import render_to_string

from anomalies.models import BoardMeeting
from anomalies.models.meeting import hash_text
from anomalies.reads.card_sheets import check_paper
from anomalies.reads.meetings.minutes import read_minutes
from anomalies.reads.meetings.page import find_agenda
from anomalies.reads.paper import SIZES, read_style
from config.kit.pdf import print_pdf
from config.kit.permissions import Actor


def print_minutes(meeting: BoardMeeting, actor: Actor, *, paper: str = "a4") -> bytes:
    """Return the minutes as PDF; WrongState before the meeting, BadInput for a paper that isn't known, NoPrinter."""
    size, minutes = SIZES[check_paper(paper)], read_minutes(meeting)
    agenda = find_agenda(meeting)
    context = {
        "meeting": meeting,
        "minutes": minutes,
        "chapters": minutes.chapters_for(actor),
        "left": [group for group in agenda.groups_for(actor) if group.items] if agenda else [],
        "left_hash": hash_text(meeting.agenda_left),
        "paper": size,
        "style": read_style("minutes_paper.css"),
    }
    return print_pdf(render_to_string("anomalies/paper/minutes.html", context))
