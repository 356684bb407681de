"""Pages of procedures: the list, one procedure, one of its revisions, its redline, and the card."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from anomalies.cards import CARD_LINES, count_card_lines, write_heading
from anomalies.forms.procedures import AddProcedureForm
from anomalies.models import Procedure, ProcedureRevision, SignOff
from anomalies.reads.history import read_history
from anomalies.reads.lessons.offers import read_offers
from anomalies.reads.procedure_pages import (
    HEADER,
    ProcedureFilter,
    count_tabs,
    find_procedures,
    find_uses,
    read_readers,
    read_row,
    read_step_rows,
    write_row,
)
from anomalies.reads.procedure_standing import read_standings
from anomalies.reads.procedures import read_redline
from anomalies.redline import fold
from anomalies.states import PROCEDURE_REVISION
from anomalies.views.moves import draft_key, finish
from config.kit.csv import write_csv
from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest

SHOWN_WITH = ("procedure", "base", "author", "approver", "effective_from", "anomaly", "action")


@require_GET
def list_procedures(request: PersonRequest) -> HttpResponse:
    """Show the procedures that the filter lets through."""
    require(request.user, "procedure.view")
    wanted = ProcedureFilter.read(request.GET.dict())
    page = paginate(request, find_procedures(request.user, wanted))
    standings = read_standings(page)
    context = {
        "page": page,
        "rows": [read_row(procedure, standings[procedure.pk]) for procedure in page],
        "wanted": wanted,
        "tabs": count_tabs(request.user),
        "kinds": Procedure.Kind.choices,
    }
    return page_or_fragment(request, "anomalies/procedures/list.html", "anomalies/procedures/_table.html", context)


@require_GET
def export_procedures(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out all rows of the filter."""
    require(request.user, "procedure.view")
    rows = find_procedures(request.user, ProcedureFilter.read(request.GET.dict()))
    return write_csv("procedures", HEADER, map(write_row, rows.iterator(500)))


@require_http_methods(["GET", "POST"])
def add(request: PersonRequest) -> HttpResponse:
    """Add a procedure."""
    require(request.user, "procedure.add")
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = AddProcedureForm(*sent, record=Procedure(), actor=request.user)
    procedure = form.perform() if form.is_bound else None
    if procedure is not None:
        return finish(request, form.done, procedure.get_absolute_url())
    context = {"form": form, "draft": draft_key(request)}
    return render(request, "anomalies/procedures/add.html", context, status=form.status if form.is_bound else 200)


@require_GET
def show_procedure(request: PersonRequest, number: str) -> HttpResponse:
    """Show a procedure: its revisions, and where it's used."""
    procedure = get_object_or_404(Procedure.objects.visible_to(request.user), number=number)
    revisions = procedure.revisions.defer("steps").select_related(*SHOWN_WITH)
    context = {
        "procedure": procedure,
        "standing": read_standings([procedure])[procedure.pk],
        "revisions": list(revisions),
        "uses": list(find_uses(procedure)),
        "lessons": read_offers(procedure) if allows(request.user, "anomaly.view") else None,
        "events": read_history(procedure),
    }
    return render(request, "anomalies/procedures/page.html", context)


@require_GET
def show_revision(request: PersonRequest, number: str, revision: int) -> HttpResponse:
    """Show the steps of a revision, or what it changes in the one before; who must read it, who signed it."""
    found = find_revision(request, number, revision)
    acknowledged = found.acknowledgements.filter(person=request.user).exists()
    earlier = list(found.procedure.revisions.filter(number__lt=found.number).order_by("-number").defer("steps"))
    before = find_before(request, found, earlier)
    context = {
        "revision": found,
        "procedure": found.procedure,
        "steps": read_step_rows(found.read_steps()),
        "redline": fold(read_redline(found, before)) if request.GET.get("show") == "redline" else None,
        "before": before,
        "earlier": earlier,
        "may_edit": may_edit(request, found),
        "readers": read_readers(found),
        "acknowledged": acknowledged,
        "signatures": list(SignOff.objects.of(found)),
        "events": read_history(found, parts=[found.acknowledgements.all()])[::-1],
        "card_lines": count_card_lines(found.read_steps(), head_card(found)) if found.procedure.is_card else 0,
        "most_lines": CARD_LINES,
        "lessons": read_offers(found.procedure) if _is_taught(request, found) else None,
    }
    return render(request, "anomalies/procedures/revision.html", context)


def _is_taught(request: PersonRequest, revision: ProcedureRevision) -> bool:
    """Tell whether lessons are offered: while the revision is being written."""
    return "edit" in PROCEDURE_REVISION.names_from(revision.state) and allows(request.user, "anomaly.view")


@require_GET
def show_card(request: PersonRequest, number: str, revision: int) -> HttpResponse:
    """Show a revision as it's printed on one small card."""
    found = find_revision(request, number, revision)
    steps = read_step_rows(found.read_steps())
    context = {"revision": found, "procedure": found.procedure, "steps": steps, "heading": head_card(found)}
    return render(request, "anomalies/procedures/card.html", context)


@require_GET
def show_paper_style(request: PersonRequest, number: str, revision: int) -> HttpResponse:
    """Say what stands at the foot of printed pages: CSS can't take it from the page, and inline style is barred."""
    found = find_revision(request, number, revision)
    name = "".join(letter for letter in found.procedure.number if letter.isalnum() or letter == "-")
    context = {"name": name, "revision": found}
    return render(request, "anomalies/procedures/paper.css", context, content_type="text/css; charset=utf-8")


def head_card(revision: ProcedureRevision) -> str:
    """Return the heading of its card."""
    return write_heading(revision.procedure.number, revision.number, revision.procedure.title)


def find_revision(request: PersonRequest, number: str, revision: int) -> ProcedureRevision:
    """Return the revision if the person may see it, else answer 404."""
    visible = ProcedureRevision.objects.visible_to(request.user).select_related(*SHOWN_WITH)
    return get_object_or_404(visible, procedure__number=number, number=revision)


def find_before(
    request: PersonRequest, revision: ProcedureRevision, earlier: Sequence[ProcedureRevision]
) -> ProcedureRevision | None:
    """Return the earlier revision that the address names, else the one that it was drafted from; 404 for another."""
    asked = request.GET.get("before", "")
    if not asked:
        return revision.base
    found = next((each for each in earlier if str(each.number) == asked), None)
    if found is None:
        raise Http404
    return found


def may_edit(request: PersonRequest, revision: ProcedureRevision) -> bool:
    """Tell whether the person may edit its steps now."""
    is_open = "edit" in PROCEDURE_REVISION.names_from(revision.state)
    return is_open and allows(request.user, "procedure_revision.edit", revision)
