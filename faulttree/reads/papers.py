"""The report of a revision on paper: what its template needs, and how large it may be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.contrib.auth.models import User
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from config.kit.colours import fix_colours
from config.kit.errors import BadInput, Refused
from config.kit.figures import write_plain
from config.kit.pdf import print_pdf
from faulttree.drawing.blocks import Paper
from faulttree.drawing.graph import FaultGraph, Node
from faulttree.drawing.sheets import Book, PaperSheet, split_into_sheets
from faulttree.drawing.standalone import draw_on_paper
from faulttree.drawing.svg import MARGIN, Drawing
from faulttree.engine.report import CAUTION
from faulttree.models import Run, TreeRevision
from faulttree.reads.answers import Answer, read_answer
from faulttree.reads.exports import say_listed
from faulttree.reads.graphs import read_revision_graph
from faulttree.reads.pictures import choose_top
from faulttree.reads.tables import MEASURES, CutSetRow, EventRow, list_cut_sets, list_importance

SIZES = {"a4": ("A4 landscape", 841.9, 595.3), "letter": ("Letter landscape", 792.0, 612.0)}
"""Name of the paper for the style, width and height in points."""
SIDES, HEAD_AND_FOOT = 57.0, 77.0
"""What the margins of a page take, in points, with the line above each sheet."""
POINTS = 0.69
"""Points that one unit of a drawing takes: its smallest letters, 9.5 units, are 6.6 points high on paper."""

MOST_SHEETS = 40
"""A report is made while its reader waits: so many sheets with the tables take about 8 s of one processor."""
SECONDS_AT_LEAST, SECONDS_A_SHEET = 2.0, 0.15
"""As measured from 6 to 36 sheets."""
MOST_GATES = 1_000
"""A tree with more isn't even split: it would take some hundred sheets."""
MOST_CUT_SETS = 50
MOST_EVENTS = 100


@dataclass(frozen=True, slots=True)
class PaperPage:
    """One sheet of the diagram."""

    number: int
    svg: SafeString
    labels: str


@dataclass(frozen=True, slots=True)
class IndexRow:
    """One transfer: its number, its gate, the sheet that draws it, the sheets that refer to it."""

    number: int
    node: Node
    home: int
    sources: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """What printing a tree or branch would take; `refusal` says why it isn't done, "" where it is."""

    sheets: int | None
    refusal: str

    @property
    def seconds(self) -> int | None:
        """How long it may take; None for what isn't printed."""
        return None if self.refusal else round(SECONDS_AT_LEAST + SECONDS_A_SHEET * (self.sheets or 0))


def look_ahead(graph: FaultGraph, root: str, size: str = "a4") -> Outlook:
    """Return what printing the branch under a gate would take."""
    gates, _ = graph.count_below(root)
    count = len(split_into_sheets(graph, root, measure_paper(size)).sheets) if gates < MOST_GATES else None
    if count is not None and count <= MOST_SHEETS:
        return Outlook(count, "")
    takes = f"{count:,} sheets" if count is not None else f"hundreds of sheets for {gates + 1:,} gates"
    return Outlook(
        count,
        f"The diagram would take {takes}, and at most {MOST_SHEETS} are printed at once. "
        "Show a branch of the tree alone and print that, or save the whole tree as SVG.",
    )


def measure_paper(size: str) -> Paper:
    """Return what a page holds."""
    _, width, height = SIZES[size]
    return Paper((width - SIDES) / POINTS - 2 * MARGIN, (height - HEAD_AND_FOOT) / POINTS - 2 * MARGIN)


@dataclass(frozen=True)
class Report:
    """Everything the template asks for."""

    revision: TreeRevision
    run: Run | None
    person: User | None
    at: datetime
    size: str
    root: str
    graph: FaultGraph

    @cached_property
    def answer(self) -> Answer | None:
        """The answer of the run."""
        return read_answer(self.run)

    @cached_property
    def outlook(self) -> Outlook:
        """What printing it takes."""
        return look_ahead(self.graph, self.root, self.size)

    @cached_property
    def book(self) -> Book:
        """The diagram on sheets."""
        return split_into_sheets(self.graph, self.root, measure_paper(self.size))

    @cached_property
    def is_branch(self) -> bool:
        """Only a branch is drawn."""
        return self.root != choose_top(self.revision, self.run, self.graph)

    @cached_property
    def top(self) -> Node:
        """The top event of the run."""
        return self.graph[choose_top(self.revision, self.run, self.graph)]

    @cached_property
    def node(self) -> Node:
        """The gate at the top of what is drawn."""
        return self.graph[self.root]

    @cached_property
    def pages(self) -> list[PaperPage]:
        """The sheets, drawn."""
        return [self._draw(sheet) for sheet in self.book.sheets]

    def _draw(self, sheet: PaperSheet) -> PaperPage:
        marks = self.book.marks(sheet)
        drawing = Drawing(self.graph, sheet.sheet, sheet.plan, None, (), write_plain, marks, names_first=True)
        svg = draw_on_paper(drawing, name=f"Sheet {sheet.number}", points=POINTS)
        labels = "; ".join(block.top.node.label or block.top.node.name for block in sheet.blocks)
        return PaperPage(sheet.number, mark_safe(svg), labels)  # noqa: S308  escaped by markup.py

    @cached_property
    def index(self) -> list[IndexRow]:
        """All transfers."""
        return [
            IndexRow(number, self.graph[name], self.book.homes[name], ", ".join(map(str, self.book.sources[name])))
            for name, number in self.book.numbers.items()
        ]

    @cached_property
    def cut_sets(self) -> list[CutSetRow]:
        """The likeliest cut sets."""
        return list_cut_sets(self.answer, self.graph, {})[:MOST_CUT_SETS] if self.answer else []

    @cached_property
    def listed(self) -> str:
        """How many of the cut sets the run lists."""
        return say_listed(self.answer) if self.answer and self.answer.data.get("cut_sets") else ""

    @cached_property
    def all_events(self) -> list[EventRow]:
        """Importance of every event, by Birnbaum importance."""
        return list_importance(self.answer, self.graph, {}) if self.answer and self.answer.data["importance"] else []

    @cached_property
    def events(self) -> list[EventRow]:
        """Importance of the leading events."""
        return self.all_events[:MOST_EVENTS]


def print_report(revision: TreeRevision, run: Run | None, person: User, *, size: str = "a4", focus: str = "") -> bytes:
    """Return the report as PDF: the tree, or the branch under the gate `focus`, on paper of a size of SIZES.

    Raises BadInput for a size or gate that isn't there, Refused for a tree with more than MOST_SHEETS sheets.
    """
    report = read_report(revision, run, person, size=size, focus=focus)
    context = {
        "report": report,
        "revision": revision,
        "tree": revision.tree,
        "run": run,
        "answer": report.answer,
        "caution": CAUTION,
        "measures": MEASURES,
        "style": mark_safe(_style(SIZES[size][0])),  # noqa: S308  a file of ours
    }
    return print_pdf(render_to_string("faulttree/paper/report.html", context))


def draw_sheets(revision: TreeRevision, top: str, *, size: str = "a4") -> list[PaperPage]:
    """Return the branch under a gate on sheets of paper, for somebody else's document.

    Raises BadInput for a size or gate that isn't there, Refused for a tree with more than MOST_SHEETS sheets.
    """
    _check_size(size)
    return _check(Report(revision, None, None, timezone.now(), size, top, read_revision_graph(revision, None))).pages


def _style(paper: str) -> str:
    return fix_colours(render_to_string("faulttree/paper/report.css", {"paper": paper}))


def read_report(revision: TreeRevision, run: Run | None, person: User, *, size: str = "a4", focus: str = "") -> Report:
    """Return the report, not yet drawn, if it can be printed; raises as print_report does."""
    _check_size(size)
    graph = read_revision_graph(revision, run)
    root = focus or choose_top(revision, run, graph)
    return _check(Report(revision, run, person, timezone.now(), size, root, graph))


def _check_size(size: str) -> None:
    if size not in SIZES:
        message = f"Choose one of {', '.join(SIZES)} as the size of the paper."
        raise BadInput(message, code="no_such_paper", fields={"paper": [message]})


def _check(report: Report) -> Report:
    """Return the report if its gate is there and it isn't too large to print."""
    if report.root not in report.graph or not report.graph[report.root].is_gate:
        message = f"There is no gate {report.root[:200]} in this revision."
        raise BadInput(message, code="no_such_gate", fields={"focus": [message]})
    refusal = report.outlook.refusal
    if refusal:
        raise Refused(refusal, code="too_large_to_print")
    return report
