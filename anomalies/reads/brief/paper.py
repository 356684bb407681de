"""The brief on paper."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from anomalies.reads.brief.parts import Brief
from anomalies.reads.card_sheets import check_paper
from config.kit.colours import fix_colours
from config.kit.pdf import print_pdf

PAPERS = {"a4": "A4", "letter": "Letter"}
STYLE = Path(__file__).parents[2] / "static" / "anomalies" / "brief_paper.css"


def print_brief(brief: Brief, *, paper: str = "a4") -> bytes:
    """Return the brief as PDF; raises BadInput for a paper that isn't known, NoPrinter where no PDF can be made."""
    context = {"brief": brief, "paper": PAPERS[check_paper(paper)], "style": _read_style()}
    return print_pdf(render_to_string("anomalies/paper/brief.html", context))


@cache
def _read_style() -> SafeString:
    return mark_safe(fix_colours(STYLE.read_text(encoding="utf-8")))  # noqa: S308  # a file of ours
