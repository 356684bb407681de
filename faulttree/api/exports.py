"""Files of revisions and runs in the JSON API; the pages hand out the same."""

from __future__ import annotations

from typing import Any, cast

from django.contrib.auth.models import User
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request

from config.kit.api_files import PDF, FileView
from config.kit.api_schema import RefusalOut
from config.kit.csv import write_csv
from config.kit.downloads import send_download
from faulttree.bridge import write_exchange_xml, write_plain_json
from faulttree.models import Run, TreeRevision
from faulttree.reads.exports import find_run_of, name_revision, name_run, write_cut_sets, write_importance
from faulttree.reads.graphs import read_run_graph
from faulttree.reads.papers import SIZES, print_report
from faulttree.reads.pictures import draw_picture

XML: dict[Any, Any] = {(200, "application/xml"): OpenApiTypes.BINARY, 409: RefusalOut}
CSV: dict[Any, Any] = {(200, "text/csv"): OpenApiTypes.BINARY, 409: RefusalOut}
SVG: dict[Any, Any] = {(200, "image/svg+xml"): OpenApiTypes.BINARY}
RUN = OpenApiParameter("run", int, description="A run of the revision: its mission time and figures.")
DIAGRAM = [
    RUN,
    OpenApiParameter("whole", bool, description="Draw the whole tree; the others but `run` are ignored then."),
    OpenApiParameter("focus", str, description="Name of the gate to draw from; the top event where left out."),
    OpenApiParameter("open", str, many=True, description="Gates to unfold in any case."),
    OpenApiParameter("shut", str, many=True, description="Gates to keep folded."),
    OpenApiParameter("room", int, description="Boxes to unfold to, from 46 to 900."),
    OpenApiParameter("cut", int, description="Number of the cut set of the run to light up."),
]
REPORT = [
    RUN,
    OpenApiParameter("paper", str, enum=list(SIZES), description="Size of the paper, a4 where left out."),
    OpenApiParameter("focus", str, description="Name of the gate whose branch is printed; all where left out."),
]


@extend_schema(tags=["trees"])
class RevisionXmlView(FileView):
    """The model of a revision in Open-PSA exchange XML."""

    @extend_schema(responses=XML)
    def get(self, request: Request, tree_id: int, number: int) -> HttpResponse:
        """Hand it out, written anew from what was read."""
        revision = _find_revision(request, tree_id, number)
        name = f"{name_revision(revision)}.xml"
        return send_download(write_exchange_xml(revision), name=name, media_type="application/xml")


@extend_schema(tags=["trees"])
class RevisionSourceView(FileView):
    """The file of a revision as it came."""

    @extend_schema(responses=XML)
    def get(self, request: Request, tree_id: int, number: int) -> HttpResponse:
        """Hand it out, byte for byte; what came as plain JSON was kept as exchange XML."""
        revision = _find_revision(request, tree_id, number)
        name = f"{name_revision(revision)}-source.xml"
        return send_download(bytes(revision.source), name=name, media_type="application/xml")


@extend_schema(tags=["trees"])
class RevisionModelView(FileView):
    """The model of a revision in plain JSON."""

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, tree_id: int, number: int) -> HttpResponse:
        """Hand it out, as the import takes it."""
        revision = _find_revision(request, tree_id, number)
        name = f"{name_revision(revision)}.json"
        return send_download(write_plain_json(revision), name=name, media_type="application/json")


@extend_schema(tags=["trees"])
class RevisionDiagramView(FileView):
    """The diagram of a revision as SVG: the whole tree, or a branch as the page shows it."""

    @extend_schema(parameters=DIAGRAM, responses=SVG)
    def get(self, request: Request, tree_id: int, number: int) -> HttpResponse:
        """Hand it out, with fixed colours and nothing outside the file; what it leaves folded it says."""
        revision = _find_revision(request, tree_id, number)
        picture = draw_picture(
            revision, find_run_of(revision, request.user, request.query_params), request.query_params
        )
        return send_download(picture, name=f"{name_revision(revision)}.svg", media_type="image/svg+xml")


@extend_schema(tags=["trees"])
class RevisionReportView(FileView):
    """The report of a revision for paper, as PDF: head, diagram on sheets, cut sets, importance."""

    @extend_schema(parameters=REPORT, responses=PDF)
    def get(self, request: Request, tree_id: int, number: int) -> HttpResponse:
        """Hand it out; 409 for a tree that takes too many sheets, 503 where the machine can't make PDF."""
        revision = _find_revision(request, tree_id, number)
        query = request.query_params
        run = find_run_of(revision, request.user, query)
        size, focus = str(query.get("paper", "a4")), str(query.get("focus", ""))
        report = print_report(revision, run, cast(User, request.user), size=size, focus=focus)
        return send_download(report, name=f"{name_revision(revision)}.pdf", media_type="application/pdf")


@extend_schema(tags=["runs"])
class RunCutSetsView(FileView):
    """The minimal cut sets that a run lists, as CSV."""

    @extend_schema(responses=CSV)
    def get(self, request: Request, run_id: int) -> StreamingHttpResponse:
        """Hand them out; lines that begin with # say how many of how many are listed. 409 where there are none."""
        run = _find_run(request, run_id)
        rows = write_cut_sets(run, read_run_graph(run))
        return write_csv(f"{name_run(run)}-cut-sets", next(rows), rows)


@extend_schema(tags=["runs"])
class RunImportanceView(FileView):
    """All importance measures of a run, as CSV."""

    @extend_schema(responses=CSV)
    def get(self, request: Request, run_id: int) -> StreamingHttpResponse:
        """Hand them out; "inf" is an infinite ratio, an empty cell doesn't apply. 409 where there are none."""
        run = _find_run(request, run_id)
        rows = write_importance(run, read_run_graph(run))
        return write_csv(f"{name_run(run)}-importance", next(rows), rows)


def _find_revision(request: Request, tree_id: int, number: int) -> TreeRevision:
    visible = TreeRevision.objects.visible_to(request.user).select_related("tree", "author")
    return get_object_or_404(visible, tree_id=tree_id, number=number)


def _find_run(request: Request, run_id: int) -> Run:
    visible = Run.objects.visible_to(request.user).select_related("revision__tree", "revision__author")
    return get_object_or_404(visible, pk=run_id)
