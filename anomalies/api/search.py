"""The search over everything, in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from anomalies.api.doors import person_of
from anomalies.models import SearchText
from anomalies.reads.search import NAMES


class HitOut(serializers.ModelSerializer[SearchText]):
    """A record that was found; its history is at records/<kind>/<record_id>/history/."""

    code = serializers.SerializerMethodField(help_text="Its number or serial, where it has one.")
    anomaly = serializers.CharField(
        source="anomaly.number", allow_null=True, default=None, help_text="The dossier it belongs to."
    )

    class Meta:
        model = SearchText
        fields = ("kind", "record_id", "code", "title", "anomaly")

    def get_code(self, hit: SearchText) -> str:
        """Return the first of the codes by which people look it up."""
        return hit.codes.split("\n")[0]


class SearchIn(serializers.Serializer[Any]):
    """What is looked for."""

    words = serializers.CharField(max_length=200, help_text="Every word, or its beginning, must be in the record.")
    kind = serializers.ChoiceField(sorted(NAMES.items()), required=False)


class SearchView(ListAPIView[SearchText]):
    """What holds all the words, among what you may see; the best match first."""

    serializer_class = HitOut

    def get_queryset(self) -> QuerySet[SearchText]:
        """Return what was found."""
        asked = SearchIn(data=self.request.query_params)
        asked.is_valid(raise_exception=True)
        words, kind = asked.validated_data["words"], asked.validated_data.get("kind")
        rows = SearchText.objects.visible_to(person_of(self.request)).matching(words)
        rows = rows.filter(kind=kind) if kind else rows
        return rows.best_first(words).select_related("anomaly")

    @extend_schema(tags=["records"], parameters=[SearchIn])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Search."""
        return super().get(request, *args, **kwargs)
