"""What every kind of record has in the JSON API: its history in the ledger, and the signatures under it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.http import Http404
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.anomaly_shapes import EventOut
from anomalies.api.doors import person_of
from anomalies.models import SignOff
from anomalies.models.base import Record, record_models
from anomalies.reads.history import read_history
from config.kit.ledger import kept_models


def _shown_kinds() -> dict[str, Any]:
    """Return the kinds of record that can be found on their own, with their models."""
    models: list[Any] = [*record_models(), *kept_models()]
    return {model.KIND: model for model in models if hasattr(model.objects, "visible_to")}


KIND = OpenApiParameter("kind", str, OpenApiParameter.PATH, description="Like anomaly, evidence, procedure_revision.")


class SignatureOut(serializers.ModelSerializer[SignOff]):
    """Who signed which version in what role, meaning what; with the hash of what was signed."""

    signer = serializers.CharField(source="signer.username")

    class Meta:
        model = SignOff
        fields = (
            *("id", "signer", "signer_name", "signer_role", "signed_at", "meaning"),
            *("signed_version", "signed_hash"),
        )


def find_record(request: Request, kind: str, record_id: int) -> Record:
    """Return a record of any kind if the person may see it, else answer 404."""
    model = _shown_kinds().get(kind)
    if model is None:
        raise Http404
    record: Record = get_object_or_404(model.objects.visible_to(person_of(request)), pk=record_id)
    return record


@extend_schema(tags=["records"], parameters=[KIND], responses=EventOut(many=True))
class HistoryView(APIView):
    """The history of one record."""

    def get(self, request: Request, kind: str, record_id: int) -> Response:
        """Show every entry of the ledger about it, oldest first."""
        events = [asdict(event) for event in read_history(find_record(request, kind, record_id))]
        return Response(EventOut(events, many=True).data)


@extend_schema(tags=["records"], parameters=[KIND], responses=SignatureOut(many=True))
class SignaturesView(APIView):
    """The signatures under one record."""

    def get(self, request: Request, kind: str, record_id: int) -> Response:
        """Show them, oldest first."""
        signed = SignOff.objects.of(find_record(request, kind, record_id)).select_related("signer")
        return Response(SignatureOut(signed, many=True).data)
