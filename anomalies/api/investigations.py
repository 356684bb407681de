"""Investigations by a fault tree in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import investigation_shapes as shapes
from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.investigation_figures import InvestigationOut
from anomalies.api.move_views import Noun, move_view
from anomalies.api.procedure_shapes import VersionIn
from anomalies.models import Investigation
from anomalies.services import investigations as services
from anomalies.services.bearings import weigh_evidence
from anomalies.services.dispositions import judge_events
from anomalies.services.inspections import plan_inspection
from config.kit.permissions import require

SHOWN_WITH = ("anomaly", "revision__tree", "origin__tree", "opened_by", "concluded_by")


class Order(serializers.Serializer[Any]):
    """What possible inspections are ranked by: what they tell per working hour, per unit of cost, or by itself."""

    rank = serializers.ChoiceField([("hours", "hours"), ("cost", "cost"), ("bits", "bits")], default="hours")


def find(request: Request, investigation_id: int) -> Investigation:
    """Return the investigation if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=investigation_id)


def _visible(request: Request) -> QuerySet[Investigation]:
    rows = Investigation.objects.visible_to(person_of(request)).select_related(*SHOWN_WITH)
    return rows.defer("revision__source", "origin__source")


INVESTIGATION = Noun("investigations", "investigation_id", find, InvestigationOut)


def _show(request: Request, investigation: Investigation) -> Response:
    """Show it with the inspections in the order that is asked for."""
    asked = Order(data=request.query_params)
    asked.is_valid(raise_exception=True)
    context = {"request": request, "order": asked.validated_data["rank"]}
    return Response(InvestigationOut(investigation, context=context).data)


class InvestigationListView(ListAPIView[Investigation]):
    """Investigations, the newest first."""

    serializer_class = shapes.InvestigationBrief

    def get_queryset(self) -> QuerySet[Investigation]:
        """Return what the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = shapes.InvestigationFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        return _visible(self.request).filter(**filters.validated_data)

    @extend_schema(tags=["investigations"], parameters=[shapes.InvestigationFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


class InvestigationView(APIView):
    """One investigation."""

    @extend_schema(tags=["investigations"], parameters=[Order], responses=InvestigationOut)
    def get(self, request: Request, investigation_id: int) -> Response:
        """Show it, and what follows from all that is known."""
        return _show(request, find(request, investigation_id))


class OfAnomalyView(APIView):
    """The investigation of one anomaly."""

    @extend_schema(tags=["anomalies"], parameters=[Order], responses=InvestigationOut)
    def get(self, request: Request, number: str) -> Response:
        """Show it, and what follows from all that is known; 404 where the anomaly has none."""
        find_anomaly(request, number)
        return _show(request, get_object_or_404(_visible(request), anomaly__number=number))

    @extend_schema(tags=["anomalies"], request=shapes.OpenIn, responses={201: InvestigationOut})
    def post(self, request: Request, number: str) -> Response:
        """Open it on a copy of a tree."""
        anomaly = find_anomaly(request, number)
        require(request.user, "investigation.open", anomaly)
        given = check_shape(shapes.OpenIn, request)
        made = services.open_investigation(anomaly_id=anomaly.pk, actor=person_of(request), **given)
        return INVESTIGATION.show(request, find(request, made.pk), status.HTTP_201_CREATED)


def _move(name: str, service: Any, says: str, shape: Any) -> Any:
    rule = f"investigation.{name.replace('-', '_')}"
    return move_view(INVESTIGATION, name, service, says, shape=shape, rule=rule)


S = services
MOVES = {
    "judge": _move("judge", judge_events, "Give events and gates a disposition.", shapes.JudgeIn),
    "weigh": _move("weigh", weigh_evidence, "Enter what evidence says of an event.", shapes.WeighIn),
    "plan-inspection": _move("plan-inspection", plan_inspection, "Add a possible inspection.", shapes.InspectionIn),
    "set-time": _move("set-time", S.set_mission_time, "Take probabilities at another time.", shapes.TimeIn),
    "take-up": _move("take-up", S.take_up_revision, "Use the newest revision of its tree.", VersionIn),
    "conclude": _move("conclude", S.conclude_investigation, "End the work on the tree.", shapes.ConclusionIn),
    "resume": _move("resume", S.resume_investigation, "Work on it again.", ReasonIn),
}
