"""Files of revisions and runs in the JSON API; the pages hand out the same."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from config.kit.api_schema import RefusalOut
from config.kit.csv import write_csv
from config.kit.downloads import send_download
from faulttree.bridge import write_exchange_xml, write_plain_json
from faulttree.models import Run, TreeRevision
from faulttree.reads.exports import name_revision, name_run, write_cut_sets, write_importance
from faulttree.reads.graphs import read_run_graph

XML: dict[Any, Any] = {(200, "application/xml"): OpenApiTypes.BINARY, 409: RefusalOut}
CSV: dict[Any, Any] = {(200, "text/csv"): OpenApiTypes.BINARY, 409: RefusalOut}


class FileView(APIView):
    """Hands out a file."""

    def perform_content_negotiation(self, request: Request, force: bool = False) -> tuple[BaseRenderer, str]:
        """Whatever the client says it takes: the file is what it is, and errors are JSON."""
        return JSONRenderer(), JSONRenderer.media_type


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
