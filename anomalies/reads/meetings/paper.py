"""The minutes on paper."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from anomalies.models import BoardMeeting
from anomalies.models.meeting import hash_text
from anomalies.reads.brief.paper import PAPERS
from anomalies.reads.card_sheets import check_paper
from anomalies.reads.meetings.minutes import read_minutes
from anomalies.reads.meetings.page import find_agenda
from config.kit.colours import fix_colours
from config.kit.pdf import print_pdf
from config.kit.permissions import Actor

STYLE = Path(__file__).parents[2] / "static" / "anomalies" / "minutes_paper.css"


def print_minutes(meeting: BoardMeeting, actor: Actor, *, paper: str = "a4") -> bytes:
    """Return the minutes as PDF; WrongState before the meeting, BadInput for a paper that isn't known, NoPrinter."""
    size, minutes = PAPERS[check_paper(paper)], read_minutes(meeting)
    agenda = find_agenda(meeting)
    context = {
        "meeting": meeting,
        "minutes": minutes,
        "chapters": minutes.chapters_for(actor),
        "left": [group for group in agenda.groups_for(actor) if group.items] if agenda else [],
        "left_hash": hash_text(meeting.agenda_left),
        "paper": size,
        "style": _read_style(),
    }
    return print_pdf(render_to_string("anomalies/paper/minutes.html", context))


@cache
def _read_style() -> SafeString:
    return mark_safe(fix_colours(STYLE.read_text(encoding="utf-8")))  # noqa: S308  # a file of ours
