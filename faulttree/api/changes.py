"""What is different between two revisions, in the JSON API."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from faulttree.models import TreeRevision
from faulttree.reads.compared import read_comparison

AGAINST = OpenApiParameter("against", int, description="Number of another revision; the one before where left out.")


class DifferenceOut(serializers.Serializer[Any]):
    """One thing that is different."""

    kind = serializers.CharField()
    name = serializers.CharField()
    what = serializers.CharField(help_text="added, removed, changed or renamed")
    words = serializers.CharField()


class TopFigureOut(serializers.Serializer[Any]):
    """A probability where `method` is exact, else the two ends of a certified bracket."""

    method = serializers.CharField()
    probability = serializers.FloatField(allow_null=True)
    lower = serializers.FloatField(allow_null=True)
    upper = serializers.FloatField(allow_null=True)


class TopChangeOut(serializers.Serializer[Any]):
    """A top event in both revisions; `was` is what it was called, a figure is null where there is none."""

    top = serializers.CharField()
    was = serializers.CharField(allow_blank=True)
    before = TopFigureOut(allow_null=True)
    after = TopFigureOut(allow_null=True)
    method = serializers.CharField(help_text="exact where both are, else bracket")


class ChangesOut(serializers.Serializer[Any]):
    """From one revision to another; `against` is null for the first revision."""

    revision = serializers.IntegerField(source="revision.number")
    against = serializers.IntegerField(source="against.number", allow_null=True, default=None)
    mission_time = serializers.FloatField(allow_null=True)
    changes = DifferenceOut(many=True)
    tops = TopChangeOut(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


@extend_schema(tags=["trees"])
class RevisionChangesView(APIView):
    """What a revision changed."""

    @extend_schema(parameters=[AGAINST], responses=ChangesOut)
    def get(self, request: Request, tree_id: int, number: int) -> Response:
        """Show what is new against another revision of the tree, and what it did to the top events."""
        visible = TreeRevision.objects.visible_to(request.user).select_related("tree")
        revision = get_object_or_404(visible, tree_id=tree_id, number=number)
        return Response(ChangesOut(read_comparison(revision, request.query_params.get("against", ""))).data)
