"""Activities in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from anomalies.api import activity_shapes as shapes
from anomalies.api.anomaly_shapes import ItemIn
from anomalies.api.doors import ReasonIn, check_shape, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import Activity
from anomalies.services import activities as services
from anomalies.services.procedures import drop_procedure, use_procedure
from config.kit.permissions import require

COLUMNS = {"starts_after": "planned_start__gte", "starts_before": "planned_start__lt"}


def find(request: Request, activity_id: int) -> Activity:
    """Return the activity if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=activity_id)


def _visible(request: Request) -> QuerySet[Activity]:
    rows = Activity.objects.visible_to(person_of(request)).select_related("lead")
    return rows.prefetch_related("crew__person", "hardware_uses", "procedure_uses")


ACTIVITY = Noun("activities", "activity_id", find, shapes.ActivityOut)


class ActivityListView(ListAPIView[Activity]):
    """Activities, the latest planned start first."""

    serializer_class = shapes.ActivityOut

    def get_queryset(self) -> QuerySet[Activity]:
        """Return what the filters let through."""
        require(self.request.user, "activity.view")
        filters = shapes.ActivityFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        wanted = {COLUMNS.get(name, name): value for name, value in filters.validated_data.items()}
        return _visible(self.request).filter(**wanted).order_by("-planned_start", "-pk")

    @extend_schema(tags=["activities"], parameters=[shapes.ActivityFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["activities"], request=shapes.PlanIn, responses={201: shapes.ActivityOut})
    def post(self, request: Request) -> Response:
        """Plan one."""
        require(request.user, "activity.plan")
        made = services.plan_activity(actor=person_of(request), **check_shape(shapes.PlanIn, request))
        return ACTIVITY.show(request, find(request, made.pk), status.HTTP_201_CREATED)


show = edit_view(ACTIVITY, services.edit_activity, "One activity.", shape=shapes.PlanChanges, rule="activity.edit")


def _move(name: str, service: Any, says: str, shape: Any, rule: str = "") -> Any:
    rule = rule or f"activity.{name.replace('-', '_')}"
    return move_view(ACTIVITY, name, service, says, shape=shape, rule=rule)


def _list(name: str, service: Any, says: str, shape: Any) -> Any:
    return _move(name, service, says, shape, "activity.edit")


S = services
MOVES = {
    "start": _move("start", S.start_activity, "It's under way.", shapes.AtIn),
    "complete": _move("complete", S.complete_activity, "It ended as planned.", shapes.AtIn),
    "end-early": _move("end-early", S.end_activity_early, "It was broken off.", shapes.EndedIn),
    "scrub": _move("scrub", S.scrub_activity, "It won't take place.", ReasonIn),
    "add-crew": _list("add-crew", S.add_crew, "Give somebody a role.", shapes.CrewIn),
    "remove-crew": _list("remove-crew", S.remove_crew, "Take a role from somebody.", shapes.CrewIn),
    "add-hardware": _list("add-hardware", S.add_activity_hardware, "Put an item on its list.", ItemIn),
    "remove-hardware": _list("remove-hardware", S.remove_activity_hardware, "Take an item off its list.", ItemIn),
    "add-procedure": _list("add-procedure", use_procedure, "Put a procedure on its list.", shapes.ProcedureUsedIn),
    "remove-procedure": _list(
        "remove-procedure", drop_procedure, "Take a procedure off its list.", shapes.ProcedureUsedIn
    ),
}
