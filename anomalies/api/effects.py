"""What actions do to a tree, and what they bring, in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import effect_shapes as shapes
from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.move_views import Noun, move_view
from anomalies.models import ActionEffect, ActionTie, CorrectiveAction, Investigation
from anomalies.reads.benefit import choose_within, read_benefit_page
from anomalies.services import effects as services
from anomalies.services.baselines import take_as_baseline
from anomalies.services.sign_off import confirm_password
from config.kit.permissions import require
from faulttree.facade import CAUTION, Limits


def find_effect(request: Request, effect_id: int) -> ActionEffect:
    """Return the effect if the person may see it, else answer 404."""
    rows = ActionEffect.objects.visible_to(person_of(request)).select_related("action__anomaly", "author")
    return get_object_or_404(rows, pk=effect_id)


def find_tie(request: Request, tie_id: int) -> ActionTie:
    """Return the tie if the person may see it, else answer 404."""
    rows = ActionTie.objects.visible_to(person_of(request)).select_related("action__anomaly", "other", "made_by")
    return get_object_or_404(rows, pk=tie_id)


EFFECT = Noun("effects", "effect_id", find_effect, shapes.EffectOut)
TIE = Noun("action-ties", "tie_id", find_tie, shapes.TieOut)


class EffectView(APIView):
    """One effect."""

    @extend_schema(tags=["effects"], responses=shapes.EffectOut)
    def get(self, request: Request, effect_id: int) -> Response:
        """Show it."""
        return EFFECT.show(request, find_effect(request, effect_id))


class TieView(APIView):
    """One tie between actions."""

    @extend_schema(tags=["action-ties"], responses=shapes.TieOut)
    def get(self, request: Request, tie_id: int) -> Response:
        """Show it."""
        return TIE.show(request, find_tie(request, tie_id))


EFFECT_MOVES = {
    "withdraw": move_view(
        EFFECT, "withdraw", services.withdraw_effect, "It isn't so.", shape=ReasonIn, rule="effect.withdraw"
    ),
}
TIE_MOVES = {
    "withdraw": move_view(
        TIE, "withdraw", services.untie_actions, "Untie them.", shape=ReasonIn, rule="action_tie.withdraw"
    ),
}


class OfActionView(APIView):
    """What one action does to the tree."""

    @extend_schema(tags=["actions"], responses=shapes.EffectOut(many=True))
    def get(self, request: Request, number: str) -> Response:
        """List its effects, also the withdrawn ones."""
        rows = ActionEffect.objects.filter(action=_find_action(request, number)).select_related("action", "author")
        return Response(shapes.EffectOut(rows, many=True, context={"request": request}).data)


class StateEffectView(APIView):
    """Saying what an action does to the tree."""

    @extend_schema(tags=["actions"], request=shapes.EffectIn, responses={201: shapes.EffectOut})
    def post(self, request: Request, number: str) -> Response:
        """Say what it does to an event or gate of the tree of its anomaly's investigation."""
        action = _find_action(request, number)
        require(request.user, "action.state_effect", action)
        given = check_shape(shapes.EffectIn, request)
        made = services.state_effect(action_id=action.pk, actor=person_of(request), **given)
        return EFFECT.show(request, find_effect(request, made.pk), status.HTTP_201_CREATED)


class TieActionView(APIView):
    """Tying an action to another one."""

    @extend_schema(tags=["actions"], request=shapes.TieIn, responses={201: shapes.TieOut})
    def post(self, request: Request, number: str) -> Response:
        """Say that it needs another action of its anomaly, or excludes it."""
        action = _find_action(request, number)
        require(request.user, "action.tie", action)
        given = check_shape(shapes.TieIn, request)
        made = services.tie_actions(action_id=action.pk, actor=person_of(request), **given)
        return TIE.show(request, find_tie(request, made.pk), status.HTTP_201_CREATED)


class BenefitView(APIView):
    """What the actions of one anomaly bring."""

    @extend_schema(tags=["anomalies"], parameters=[shapes.LimitsIn], responses=shapes.BenefitOut)
    def get(self, request: Request, number: str) -> Response:
        """Show it, with the best set within limits where some are given; 404 where the anomaly has no investigation."""
        anomaly = find_anomaly(request, number)
        investigation = get_object_or_404(_investigations(), anomaly=anomaly)
        asked = shapes.LimitsIn(data=request.query_params)
        asked.is_valid(raise_exception=True)
        given: dict[str, Any] = dict(asked.validated_data)
        view: Any = read_benefit_page(investigation)
        must = given.pop("must", [])
        if (given or must) and view.weighed is not None:
            choose_within(view, Limits(**given), must)
        view.caution = CAUTION
        return Response(shapes.BenefitOut(view).data)


class TakeBaselineView(APIView):
    """Verified actions becoming part of a tree."""

    @extend_schema(tags=["investigations"], request=shapes.BaselineIn, responses={201: shapes.BaselineOut})
    def post(self, request: Request, investigation_id: int) -> Response:
        """Sign that verified actions are part of the tree: it has a new revision with their effects."""
        rows = Investigation.objects.visible_to(person_of(request))
        investigation = get_object_or_404(rows, pk=investigation_id)
        require(request.user, "investigation.take_baseline", investigation)
        given = sign_shape(shapes.BaselineIn, request)
        made = take_as_baseline(investigation_id=investigation.pk, actor=person_of(request), **given)
        return Response(shapes.BaselineOut(made).data, status=status.HTTP_201_CREATED)


def sign_shape(shape: Any, request: Request) -> dict[str, Any]:
    """Return what was sent, the proof of the password in place of it."""
    given = check_shape(shape, request)
    given["proof"] = confirm_password(actor=person_of(request), password=given.pop("password"))
    return given


def _find_action(request: Request, number: str) -> CorrectiveAction:
    rows = CorrectiveAction.objects.visible_to(person_of(request)).select_related("anomaly")
    return get_object_or_404(rows, number=number)


def _investigations() -> QuerySet[Investigation]:
    rows = Investigation.objects.select_related("anomaly", "revision__tree", "origin__tree")
    return rows.defer("revision__source", "origin__source")
