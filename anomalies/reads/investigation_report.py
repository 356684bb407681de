"""The report of one anomaly on paper: what the records hold of it, from its first report to its closing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from anomalies.charts.beliefs import draw_way
from anomalies.clock import now
from anomalies.models import (
    Anomaly,
    CorrectiveAction,
    Evidence,
    Finding,
    HardwareItem,
    Investigation,
    LedgerEntry,
    ProcedureRevision,
    SignOff,
)
from anomalies.reads.card_sheets import check_paper
from anomalies.reads.causes import CauseView, read_why_chain
from anomalies.reads.evidence import Moment, find_entries, find_evidence, read_moments
from anomalies.reads.findings import FindingView, read_board, read_findings
from anomalies.reads.investigations import InvestigationView, read_investigation
from anomalies.reads.paper import SIZES, read_style
from anomalies.reads.readiness.figures import TreeFigure, find_figure
from anomalies.states import EvidenceState, TimelineState
from config.kit.errors import DomainError
from config.kit.pdf import print_pdf
from faulttree.facade import PaperPage, draw_sheets

STYLES = ("brief_paper.css", "report_paper.css")
CHART_STYLE = "way_paper.css"
CAUTION = (
    "Decision support. This report says what the records held at the moment named; what nobody recorded isn't in it. "
    "Its probabilities rest on the fault tree, the data and the assumptions named beside them. The programme's safety "
    "authority and licensed practice decide."
)


@dataclass(frozen=True, slots=True)
class TreeReport:
    """The fault tree of the anomaly: `stopped` says why there are no numbers, `not_drawn` why there is no drawing."""

    investigation: Investigation
    view: InvestigationView | None
    stopped: str
    figure: TreeFigure | None
    sheets: Sequence[PaperPage]
    not_drawn: str
    way: SafeString


@dataclass(frozen=True, slots=True)
class AnomalyReport:
    """Everything that the report says. `last` is the newest entry of the ledger then, to hold the report to it."""

    anomaly: Anomaly
    at: datetime
    last: LedgerEntry | None
    board: Sequence[User]
    items: Sequence[HardwareItem]
    constraints: Sequence[Any]
    moments: Sequence[Moment]
    evidence: Sequence[Evidence]
    findings: Sequence[FindingView]
    chain: Sequence[CauseView]
    tree: TreeReport | None
    actions: Sequence[CorrectiveAction]
    revisions: Sequence[ProcedureRevision]
    signatures: Sequence[SignOff]

    @property
    def dissents(self) -> list[tuple[Finding, Any]]:
        """Every dissent, with the finding it is from."""
        return [(view.finding, position.stand) for view in self.findings for position in view.dissents]


def read_report(anomaly: Anomaly, *, paper: str = "a4") -> AnomalyReport:
    """Return the report as the records have it now."""
    entries = [entry for entry in find_entries(anomaly) if entry.state == TimelineState.STANDING]
    evidence = list(find_evidence(anomaly))
    concerned = anomaly.hardware_concerned.filter(active=True).select_related("item__type")
    caused = ProcedureRevision.objects.filter(anomaly=anomaly) | ProcedureRevision.objects.filter(
        action__anomaly=anomaly
    )
    actions = list(anomaly.actions.select_related("owner", "doer", "verifier").order_by("pk"))
    return AnomalyReport(
        anomaly,
        now(),
        LedgerEntry.objects.order_by("sequence").last(),
        read_board(anomaly),
        [row.item for row in concerned],
        list(anomaly.constraints.select_related("activity", "hardware_type").order_by("pk")),
        read_moments(anomaly, entries, evidence),
        [piece for piece in evidence if piece.state == EvidenceState.HELD],
        read_findings(anomaly),
        read_why_chain(anomaly),
        _read_tree(anomaly, paper),
        actions,
        list(caused.exclude(state="withdrawn").select_related("procedure").distinct().order_by("pk")),
        _list_signatures(anomaly, actions),
    )


def print_anomaly(anomaly: Anomaly, *, paper: str = "a4") -> bytes:
    """Return the report as PDF; raises BadInput for a paper that isn't known, NoPrinter where no PDF can be made."""
    report = read_report(anomaly, paper=check_paper(paper))
    context = {
        "report": report,
        "anomaly": anomaly,
        "caution": CAUTION,
        "paper": SIZES[paper],
        "style": read_style(*STYLES),
    }
    return print_pdf(render_to_string("anomalies/paper/anomaly.html", context))


def _read_tree(anomaly: Anomaly, paper: str) -> TreeReport | None:
    rows = Investigation.objects.select_related("anomaly", "revision__tree", "origin__tree", "concluded_by")
    investigation = rows.filter(anomaly=anomaly).first()
    if investigation is None:
        return None
    view, stopped, sheets, not_drawn = None, "", list[PaperPage](), ""
    try:
        view = read_investigation(investigation)
        stopped = view.stopped
    except DomainError as error:
        stopped = error.message
    try:
        sheets = draw_sheets(investigation.revision, investigation.top, size=paper)
    except DomainError as error:
        not_drawn = error.message
    way = mark_safe("")
    if view and view.posterior:
        names = [row.part.name for row in view.events if row.moved is not None]
        way = _dress(draw_way(view.posterior, names, view.labels))
    return TreeReport(investigation, view, stopped, find_figure(anomaly), sheets, not_drawn, way)


def _list_signatures(anomaly: Anomaly, actions: Sequence[CorrectiveAction]) -> list[SignOff]:
    """Return who signed the anomaly, its findings and its actions, in the order of time."""
    signed = [*SignOff.objects.of(anomaly)]
    for record in (*anomaly.findings.all(), *actions):
        signed += SignOff.objects.of(record)
    return sorted(signed, key=lambda row: row.pk)


def _dress(chart: str) -> SafeString:
    """Return a chart with its style inside: on paper the style of the page doesn't reach into a drawing."""
    head, end, rest = chart.partition(">")
    return mark_safe(f"{head}{end}<style>{read_style(CHART_STYLE)}</style>{rest}" if chart else "")  # noqa: S308
