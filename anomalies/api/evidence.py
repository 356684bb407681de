"""Evidence in the JSON API: the same services as the pages, and the same door for files."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import FileResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.parsers import MultiPartParser
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.evidence_shapes import (
    EvidenceChanges,
    EvidenceFilters,
    EvidenceIn,
    EvidenceOut,
    OpeningOut,
    TelemetryOut,
)
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.file_types import WORDS
from anomalies.models import Evidence, EvidenceOpening, TelemetrySeries
from anomalies.reads.evidence import find_openings
from anomalies.services.evidence import add_evidence, describe_evidence, open_evidence, withdraw_evidence
from anomalies.web.files import send_file
from config.kit.api_schema import RefusalOut
from config.kit.parsers import JSONParser
from config.kit.permissions import require

COLUMNS = {"anomaly": "anomaly__number"}
FILES: dict[Any, Any] = {(200, media_type): OpenApiTypes.BINARY for media_type in sorted(WORDS)}


def find(request: Request, evidence_id: int) -> Evidence:
    """Return the evidence if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=evidence_id)


def _visible(request: Request) -> QuerySet[Evidence]:
    return Evidence.objects.visible_to(person_of(request)).select_related("anomaly", "added_by")


EVIDENCE = Noun("evidence", "evidence_id", find, EvidenceOut)


@extend_schema(tags=["evidence"], parameters=[EvidenceFilters], responses=EvidenceOut(many=True))
class EvidenceListView(ListAPIView[Evidence]):
    """All evidence that you may see, the newest first."""

    serializer_class = EvidenceOut

    def get_queryset(self) -> QuerySet[Evidence]:
        """Return the evidence that the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = EvidenceFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        wanted = {COLUMNS.get(name, name): value for name, value in filters.validated_data.items()}
        return _visible(self.request).filter(**wanted).order_by("-pk")


@extend_schema(tags=["evidence"])
class AnomalyEvidenceView(ListAPIView[Evidence]):
    """The evidence of one anomaly."""

    serializer_class = EvidenceOut
    parser_classes = (MultiPartParser, JSONParser)

    def get_queryset(self) -> QuerySet[Evidence]:
        """Return it in the order of its numbers."""
        anomaly = find_anomaly(self.request, self.kwargs["number"])
        return _visible(self.request).filter(anomaly=anomaly).order_by("position")

    @extend_schema(request={"multipart/form-data": EvidenceIn}, responses={201: EvidenceOut})
    def post(self, request: Request, number: str) -> Response:
        """Add a piece of evidence, with its file if it has one."""
        anomaly = find_anomaly(request, number)
        require(request.user, "anomaly.gather", anomaly)
        made = add_evidence(anomaly_id=anomaly.pk, actor=person_of(request), **check_shape(EvidenceIn, request))
        return EVIDENCE.show(request, made, status.HTTP_201_CREATED)


DESCRIBE = "One piece of evidence: its description can be corrected; for telemetry also its limits."
WITHDRAW = "Say why it doesn't count any more; 409 that names what rests on it alone."
show = edit_view(EVIDENCE, describe_evidence, DESCRIBE, shape=EvidenceChanges, rule="evidence.describe")
MOVES = {
    "withdraw": move_view(EVIDENCE, "withdraw", withdraw_evidence, WITHDRAW, shape=ReasonIn, rule="evidence.withdraw")
}


class EvidenceFileView(APIView):
    """The file of a piece of evidence."""

    def perform_content_negotiation(self, request: Request, force: bool = False) -> tuple[BaseRenderer, str]:
        """Whatever the client says it takes: the file is what it is, and errors are JSON."""
        return JSONRenderer(), JSONRenderer.media_type

    @extend_schema(tags=["evidence"], responses=FILES | {400: RefusalOut, 409: RefusalOut})
    def get(self, request: Request, evidence_id: int) -> FileResponse:
        """Hand it out, checked against its SHA-256; that you opened it is recorded.

        400 for evidence without a file, 409 if the file was changed.
        """
        evidence, file = open_evidence(evidence_id=find(request, evidence_id).pk, actor=person_of(request))
        return send_file(evidence, file)


@extend_schema(tags=["evidence"])
class EvidenceOpeningsView(ListAPIView[EvidenceOpening]):
    """Who opened the file of a piece of evidence, and when; the newest first."""

    serializer_class = OpeningOut

    def get_queryset(self) -> QuerySet[EvidenceOpening]:
        """Return the openings."""
        return find_openings(find(self.request, self.kwargs["evidence_id"]))


@extend_schema(tags=["evidence"], responses=TelemetryOut)
class EvidenceTelemetryView(APIView):
    """The series of a piece of telemetry."""

    def get(self, request: Request, evidence_id: int) -> Response:
        """Show its points, its limits and its spans out of them; 404 for evidence of another kind."""
        found = find(request, evidence_id)
        return Response(TelemetryOut(get_object_or_404(TelemetrySeries, evidence=found)).data)
