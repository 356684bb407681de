"""Corrective actions in the JSON API."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import action_shapes as shapes
from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.effect_shapes import EstimateIn
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import CorrectiveAction
from anomalies.reads.actions import ActionFilter, find_actions
from anomalies.services import actions as services
from anomalies.services import verification
from anomalies.services.action_work import do_action
from anomalies.services.effects import estimate_action
from config.kit.permissions import require

SHOWN_WITH = ("anomaly", "owner", "proposed_by", "doer", "verifier")
COLUMNS = {"anomaly": "anomaly__number", "state": "state"}


def find(request: Request, number: str) -> CorrectiveAction:
    """Return the action if the person may see it, else answer 404."""
    rows = CorrectiveAction.objects.visible_to(person_of(request)).select_related(*SHOWN_WITH)
    return get_object_or_404(rows.prefetch_related("addresses", "shown_by"), number=number)


ACTION = Noun("actions", "action_id", find, shapes.ActionOut)


class ActionListView(ListAPIView[CorrectiveAction]):
    """Corrective actions, the most pressing first."""

    serializer_class = shapes.ActionOut

    def get_queryset(self) -> QuerySet[CorrectiveAction]:
        """Return what the filters let through."""
        require(self.request.user, "action.view")
        filters = shapes.ActionFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        given = dict(filters.validated_data)
        exact = {column: given.pop(name) for name, column in COLUMNS.items() if name in given}
        wanted = ActionFilter.read({name: str(value) for name, value in given.items()})
        rows = find_actions(person_of(self.request), wanted).filter(**exact)
        return rows.select_related(*SHOWN_WITH).prefetch_related("addresses", "shown_by")

    @extend_schema(tags=["actions"], parameters=[shapes.ActionFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


@extend_schema(tags=["anomalies"], request=shapes.ActionIn, responses={201: shapes.ActionOut})
class ProposeActionView(APIView):
    """Proposing a corrective action."""

    def post(self, request: Request, number: str) -> Response:
        """Propose what should be done about the anomaly; it gets its number."""
        anomaly = find_anomaly(request, number)
        require(request.user, "action.propose", anomaly)
        given = check_shape(shapes.ActionIn, request)
        made = services.propose_action(anomaly_id=anomaly.pk, actor=person_of(request), **given)
        return ACTION.show(request, find(request, made.number), status.HTTP_201_CREATED)


show = edit_view(ACTION, services.edit_action, "One action.", shape=shapes.ActionChanges, rule="action.edit")


def _move(name: str, service: Any, says: str, shape: Any, rule: str = "") -> Any:
    rule = rule or f"action.{name.replace('-', '_')}"
    return move_view(ACTION, name, service, says, shape=shape, rule=rule)


def estimate(*, action_id: int, actor: User, version: int, **changes: Any) -> CorrectiveAction:
    """The action takes what was sent."""
    return estimate_action(action_id=action_id, actor=actor, version=version, changes=changes)


S, V = services, verification
MOVES = {
    "address-causes": _move(
        "address-causes", S.address_causes, "It addresses these causes and no others.", shapes.CauseIdsIn, "action.edit"
    ),
    "commit": _move("commit", S.commit_action, "Give it an owner and a day.", shapes.CommitIn),
    "recommit": _move("recommit", S.recommit_action, "Change owner, day or criteria.", shapes.RecommitIn),
    "do": _move("do", do_action, "Record that it was done.", shapes.DoIn),
    "send-back": _move("send-back", V.send_back_action, "It doesn't meet its criteria.", ReasonIn),
    "verify": _move("verify", V.verify_action, "Sign that it meets its criteria.", shapes.VerifyIn),
    "find-effective": _move("find-effective", V.find_action_effective, "It works.", shapes.NoteIn),
    "estimate": _move("estimate", estimate, "Say what it takes.", EstimateIn, "action.state_effect"),
    "drop": _move("drop", S.drop_action, "It won't be done.", ReasonIn),
    "reopen": _move("reopen", S.reopen_action, "It's to be done or judged again.", ReasonIn),
}
