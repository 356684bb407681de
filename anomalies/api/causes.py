"""Causes in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import finding_shapes as shapes
from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import Cause
from anomalies.services import causes as services
from config.kit.permissions import require


def find(request: Request, cause_id: int) -> Cause:
    """Return the cause if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=cause_id)


def _visible(request: Request) -> QuerySet[Cause]:
    rows = Cause.objects.visible_to(person_of(request)).select_related("anomaly", "author", "judged_by")
    return rows.prefetch_related("rests_on", "judged_on")


CAUSE = Noun("causes", "cause_id", find, shapes.CauseOut)


class CauseListView(ListAPIView[Cause]):
    """Causes, the newest first."""

    serializer_class = shapes.CauseOut

    def get_queryset(self) -> QuerySet[Cause]:
        """Return what the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = shapes.CauseFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        names = {"anomaly": "anomaly__number"}
        wanted = {names.get(name, name): value for name, value in filters.validated_data.items()}
        return _visible(self.request).filter(**wanted).order_by("-pk")

    @extend_schema(tags=["causes"], parameters=[shapes.CauseFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


@extend_schema(tags=["anomalies"], request=shapes.CauseIn, responses={201: shapes.CauseOut})
class StateCauseView(APIView):
    """Stating a cause."""

    def post(self, request: Request, number: str) -> Response:
        """Say what may have caused the anomaly."""
        anomaly = find_anomaly(request, number)
        require(request.user, "cause.state", anomaly)
        given = check_shape(shapes.CauseIn, request)
        made = services.state_cause(anomaly_id=anomaly.pk, actor=person_of(request), **given)
        return CAUSE.show(request, find(request, made.pk), status.HTTP_201_CREATED)


show = edit_view(CAUSE, services.edit_cause, "One cause.", shape=shapes.CauseChanges, rule="cause.edit")


def _move(name: str, service: Any, says: str, shape: Any = shapes.JudgementIn, rule: str = "") -> Any:
    rule = rule or f"cause.{name.replace('-', '_')}"
    return move_view(CAUSE, name, service, says, shape=shape, rule=rule)


S = services
MOVES = {
    "rest-on": _move(
        "rest-on", S.rest_cause_on, "Rest it on these findings and no others.", shapes.FindingIdsIn, "cause.edit"
    ),
    "find-credible": _move("find-credible", S.find_cause_credible, "It can't be ruled out, nor is it confirmed."),
    "rule-out": _move("rule-out", S.rule_out_cause, "It was not this cause."),
    "confirm": _move("confirm", S.confirm_cause, "It was this cause."),
    "reconsider": _move("reconsider", S.reconsider_cause, "Judge it again.", ReasonIn),
}
