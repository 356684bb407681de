"""The brief on paper."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.template.loader import render_to_string

from anomalies.models import Investigation
from anomalies.reads.brief.parts import Brief, Part, Sentence
from anomalies.reads.card_sheets import check_paper
from anomalies.reads.paper import SIZES, read_style
from config.kit.errors import DomainError
from config.kit.pdf import print_pdf
from faulttree.facade import PaperPage, draw_sheets

STYLES = ("brief_paper.css", "report_paper.css")


@dataclass(frozen=True, slots=True)
class DrawnTree:
    """The fault tree of an anomaly on sheets; `not_drawn` says why there are none."""

    investigation: Investigation
    sheets: Sequence[PaperPage]
    not_drawn: str


def print_brief(brief: Brief, *, paper: str = "a4") -> bytes:
    """Return the brief as PDF; raises BadInput for a paper that isn't known, NoPrinter where no PDF can be made."""
    trees = _draw_trees(brief, check_paper(paper))
    context = {"brief": brief, "trees": trees, "paper": SIZES[paper], "style": read_style(*STYLES)}
    return print_pdf(render_to_string("anomalies/paper/brief.html", context))


def _draw_trees(brief: Brief, paper: str) -> list[DrawnTree]:
    """Return the fault trees that sentences of the brief rest on, in their order."""
    sentences = [row for part in brief.parts for row in _walk(part)]
    keys = {each.key: None for row in sentences for each in row.sources if each.kind == Investigation.KIND}
    rows = Investigation.objects.select_related("anomaly", "revision__tree").in_bulk(list(keys))
    return [_draw_tree(rows[key], paper) for key in keys if key in rows]


def _draw_tree(investigation: Investigation, paper: str) -> DrawnTree:
    try:
        return DrawnTree(investigation, draw_sheets(investigation.revision, investigation.top, size=paper), "")
    except DomainError as error:
        return DrawnTree(investigation, (), error.message)


def _walk(part: Part) -> Iterator[Sentence]:
    yield from part.sentences
    for each in part.within:
        yield from _walk(each)
