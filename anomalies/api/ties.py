"""Constraints, and links between anomalies, in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.anomaly_shapes import (
    ConstrainIn,
    ConstraintFilters,
    ConstraintOut,
    LinkFilters,
    LinkIn,
    LinkOut,
    ResolveIn,
)
from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.move_views import Noun, move_view
from anomalies.models import Anomaly, AnomalyLink, Constraint
from anomalies.services.ties import (
    constrain,
    link_anomalies,
    reinstate_constraint,
    resolve_constraint,
    withdraw_link,
)
from config.kit.errors import BadInput
from config.kit.permissions import require

NO_TARGET = "There's no anomaly with this number."


def find_constraint(request: Request, constraint_id: int) -> Constraint:
    """Return the constraint if the person may see it, else answer 404."""
    return get_object_or_404(_constraints(request), pk=constraint_id)


def find_link(request: Request, link_id: int) -> AnomalyLink:
    """Return the link if the person may see it, else answer 404."""
    return get_object_or_404(_links(request), pk=link_id)


def _constraints(request: Request) -> QuerySet[Constraint]:
    return Constraint.objects.visible_to(person_of(request)).select_related("anomaly")


def _links(request: Request) -> QuerySet[AnomalyLink]:
    return AnomalyLink.objects.visible_to(person_of(request)).select_related("source", "target", "made_by")


CONSTRAINT = Noun("constraints", "constraint_id", find_constraint, ConstraintOut)
LINK = Noun("links", "link_id", find_link, LinkOut)


class ConstraintListView(ListAPIView[Constraint]):
    """Constraints, the newest first."""

    serializer_class = ConstraintOut

    def get_queryset(self) -> QuerySet[Constraint]:
        """Return what the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = ConstraintFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        names = {"anomaly": "anomaly__number"}
        wanted = {names.get(name, name): value for name, value in filters.validated_data.items()}
        return _constraints(self.request).filter(**wanted).order_by("-pk")

    @extend_schema(tags=["constraints"], parameters=[ConstraintFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


@extend_schema(tags=["constraints"], responses=ConstraintOut)
class ConstraintView(APIView):
    """One constraint."""

    def get(self, request: Request, constraint_id: int) -> Response:
        """Show it."""
        return CONSTRAINT.show(request, find_constraint(request, constraint_id))


@extend_schema(tags=["anomalies"], request=ConstrainIn, responses={201: ConstraintOut})
class ConstrainView(APIView):
    """Constraining by an anomaly."""

    def post(self, request: Request, number: str) -> Response:
        """Put a constraint in force, on one activity to come or on one type of hardware."""
        anomaly = find_anomaly(request, number)
        require(request.user, "anomaly.constrain", anomaly)
        made = constrain(anomaly_id=anomaly.pk, actor=person_of(request), **check_shape(ConstrainIn, request))
        return CONSTRAINT.show(request, find_constraint(request, made.pk), status.HTTP_201_CREATED)


class LinkListView(ListAPIView[AnomalyLink]):
    """Links between anomalies, the newest first."""

    serializer_class = LinkOut

    def get_queryset(self) -> QuerySet[AnomalyLink]:
        """Return what the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = LinkFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        wanted = dict(filters.validated_data)
        number = wanted.pop("anomaly", None)
        either = Q(source__number=number) | Q(target__number=number) if number else Q()
        return _links(self.request).filter(either, **wanted).order_by("-pk")

    @extend_schema(tags=["links"], parameters=[LinkFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


@extend_schema(tags=["links"], responses=LinkOut)
class LinkView(APIView):
    """One link."""

    def get(self, request: Request, link_id: int) -> Response:
        """Show it."""
        return LINK.show(request, find_link(request, link_id))


@extend_schema(tags=["anomalies"], request=LinkIn, responses={201: LinkOut})
class LinkToView(APIView):
    """Linking an anomaly to another one."""

    def post(self, request: Request, number: str) -> Response:
        """Say what the anomaly is to the other one."""
        anomaly = find_anomaly(request, number)
        require(request.user, "anomaly.link", anomaly)
        given = check_shape(LinkIn, request)
        other = Anomaly.objects.visible_to(person_of(request)).filter(number=given.pop("target")).first()
        if other is None:
            raise BadInput(NO_TARGET, fields={"target": [NO_TARGET]})
        made = link_anomalies(source_id=anomaly.pk, target_id=other.pk, actor=person_of(request), **given)
        return LINK.show(request, find_link(request, made.pk), status.HTTP_201_CREATED)


CONSTRAINT_MOVES = {
    "resolve": move_view(
        CONSTRAINT,
        "resolve",
        resolve_constraint,
        "Say how it was dealt with.",
        shape=ResolveIn,
        rule="constraint.resolve",
    ),
    "reinstate": move_view(
        CONSTRAINT,
        "reinstate",
        reinstate_constraint,
        "Put it in force again.",
        shape=ReasonIn,
        rule="constraint.reinstate",
    ),
}
LINK_MOVES = {
    "withdraw": move_view(
        LINK, "withdraw", withdraw_link, "Say why they aren't linked.", shape=ReasonIn, rule="link.withdraw"
    )
}
