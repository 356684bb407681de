"""Inspections, and what evidence says of events, in the JSON API."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import investigation_shapes as shapes
from anomalies.api.doors import ReasonIn, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import Bearing, Inspection
from anomalies.services import inspections as services
from anomalies.services.bearings import withdraw_bearing


def find_inspection(request: Request, inspection_id: int) -> Inspection:
    """Return the inspection if the person may see it, else answer 404."""
    rows = Inspection.objects.visible_to(person_of(request)).select_related("investigation__anomaly", "added_by")
    return get_object_or_404(rows, pk=inspection_id)


def find_bearing(request: Request, bearing_id: int) -> Bearing:
    """Return the bearing if the person may see it, else answer 404."""
    rows = Bearing.objects.visible_to(person_of(request)).select_related("investigation__anomaly", "author")
    return get_object_or_404(rows, pk=bearing_id)


INSPECTION = Noun("inspections", "inspection_id", find_inspection, shapes.InspectionOut)
BEARING = Noun("bearings", "bearing_id", find_bearing, shapes.BearingOut)

show = edit_view(
    INSPECTION,
    services.edit_inspection,
    "One inspection.",
    shape=shapes.InspectionChanges,
    rule="inspection.edit",
)


class BearingView(APIView):
    """One bearing."""

    @extend_schema(tags=["bearings"], responses=shapes.BearingOut)
    def get(self, request: Request, bearing_id: int) -> Response:
        """Show it."""
        return BEARING.show(request, find_bearing(request, bearing_id))


def _move(name: str, service: Any, says: str, shape: Any) -> Any:
    return move_view(INSPECTION, name, service, says, shape=shape, rule=f"inspection.{name.replace('-', '_')}")


INSPECTION_MOVES = {
    "carry-out": _move("carry-out", services.carry_out_inspection, "Its result enters the tree.", shapes.ResultIn),
    "drop": _move("drop", services.drop_inspection, "It won't be carried out.", ReasonIn),
}
BEARING_MOVES = {
    "withdraw": move_view(
        BEARING, "withdraw", withdraw_bearing, "It doesn't count any more.", shape=ReasonIn, rule="bearing.withdraw"
    ),
}
