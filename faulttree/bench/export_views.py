"""Files of a revision or of a run, to save."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.views.decorators.http import require_GET

from config.kit.csv import write_csv
from config.kit.downloads import send_download
from config.kit.requests import PersonRequest
from faulttree.bench.run_views import find_run
from faulttree.bench.tree_views import find_revision
from faulttree.bridge import write_exchange_xml, write_plain_json
from faulttree.reads.exports import find_run_of, name_revision, name_run, write_cut_sets, write_importance
from faulttree.reads.graphs import read_run_graph
from faulttree.reads.papers import print_report
from faulttree.reads.pictures import draw_picture


@require_GET
def export_xml(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Hand out the model in exchange XML, written anew; the file as it came is at `source`."""
    revision = find_revision(request, tree_id, number)
    name = f"{name_revision(revision)}.xml"
    return send_download(write_exchange_xml(revision), name=name, media_type="application/xml")


@require_GET
def export_json(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Hand out the model in plain JSON."""
    revision = find_revision(request, tree_id, number)
    name = f"{name_revision(revision)}.json"
    return send_download(write_plain_json(revision), name=name, media_type="application/json")


@require_GET
def export_svg(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Hand out the diagram: as the page shows it with the same query, or with `whole` the whole tree."""
    revision = find_revision(request, tree_id, number)
    picture = draw_picture(revision, find_run_of(revision, request.user, request.GET), request.GET)
    return send_download(picture, name=f"{name_revision(revision)}.svg", media_type="image/svg+xml")


@require_GET
def export_pdf(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Hand out the report for paper: of the tree, or of the branch in `focus`, on the paper in `paper`."""
    revision = find_revision(request, tree_id, number)
    run = find_run_of(revision, request.user, request.GET)
    size, focus = request.GET.get("paper", "a4"), request.GET.get("focus", "")
    report = print_report(revision, run, request.user, size=size, focus=focus)
    return send_download(report, name=f"{name_revision(revision)}.pdf", media_type="application/pdf")


@require_GET
def export_cut_sets(request: PersonRequest, run_id: int) -> StreamingHttpResponse:
    """Hand out the cut sets that a run lists, and how many of how many they are."""
    run = find_run(request, run_id)
    rows = write_cut_sets(run, read_run_graph(run))
    return write_csv(f"{name_run(run)}-cut-sets", next(rows), rows)


@require_GET
def export_importance(request: PersonRequest, run_id: int) -> StreamingHttpResponse:
    """Hand out every importance measure of every event."""
    run = find_run(request, run_id)
    rows = write_importance(run, read_run_graph(run))
    return write_csv(f"{name_run(run)}-importance", next(rows), rows)
