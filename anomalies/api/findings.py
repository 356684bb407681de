"""The board of an anomaly, and its findings, in the JSON API."""

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
from anomalies.api.doors import ReasonIn, SignedIn, check_shape, find_anomaly, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import BoardSeat, Finding
from anomalies.services import findings as services
from anomalies.services.board import seat_member, unseat_member
from config.kit.permissions import require


def find(request: Request, finding_id: int) -> Finding:
    """Return the finding if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=finding_id)


def _visible(request: Request) -> QuerySet[Finding]:
    rows = Finding.objects.visible_to(person_of(request)).select_related("anomaly", "author")
    return rows.prefetch_related("rests_on", "concurrences__member", "anomaly__board")


FINDING = Noun("findings", "finding_id", find, shapes.FindingOut)


class FindingListView(ListAPIView[Finding]):
    """Findings, the newest first."""

    serializer_class = shapes.FindingOut

    def get_queryset(self) -> QuerySet[Finding]:
        """Return what the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = shapes.FindingFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        names = {"anomaly": "anomaly__number"}
        wanted = {names.get(name, name): value for name, value in filters.validated_data.items()}
        return _visible(self.request).filter(**wanted).order_by("-pk")

    @extend_schema(tags=["findings"], parameters=[shapes.FindingFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


@extend_schema(tags=["anomalies"], request=shapes.FindingIn, responses={201: shapes.FindingOut})
class ProposeView(APIView):
    """Proposing a finding."""

    def post(self, request: Request, number: str) -> Response:
        """Put a finding before the board of the anomaly."""
        anomaly = find_anomaly(request, number)
        require(request.user, "finding.propose", anomaly)
        given = check_shape(shapes.FindingIn, request)
        made = services.propose_finding(anomaly_id=anomaly.pk, actor=person_of(request), **given)
        return FINDING.show(request, find(request, made.pk), status.HTTP_201_CREATED)


class BoardView(APIView):
    """The board of an anomaly."""

    @extend_schema(tags=["anomalies"], responses=shapes.SeatOut(many=True))
    def get(self, request: Request, number: str) -> Response:
        """Show who sits on it."""
        return self._show(request, number)

    @extend_schema(tags=["anomalies"], request=shapes.PersonIn, responses=shapes.SeatOut(many=True))
    def post(self, request: Request, number: str) -> Response:
        """Seat somebody."""
        anomaly = find_anomaly(request, number)
        require(request.user, "anomaly.seat", anomaly)
        seat_member(anomaly_id=anomaly.pk, actor=person_of(request), **check_shape(shapes.PersonIn, request))
        return self._show(request, number)

    def _show(self, request: Request, number: str) -> Response:
        return Response(read_board(request, number))


@extend_schema(tags=["anomalies"], request=shapes.UnseatIn, responses=shapes.SeatOut(many=True))
class UnseatView(APIView):
    """Leaving the board."""

    def post(self, request: Request, number: str) -> Response:
        """Release somebody from the board, and say why."""
        anomaly = find_anomaly(request, number)
        require(request.user, "anomaly.seat", anomaly)
        unseat_member(anomaly_id=anomaly.pk, actor=person_of(request), **check_shape(shapes.UnseatIn, request))
        return Response(read_board(request, number))


def read_board(request: Request, number: str) -> Any:
    """Return who sits on the board now, in the order of taking the seat."""
    seats = BoardSeat.objects.filter(anomaly=find_anomaly(request, number), active=True)
    return shapes.SeatOut(seats.select_related("person").order_by("pk"), many=True).data


show = edit_view(FINDING, services.edit_finding, "One finding.", shape=shapes.FindingChanges, rule="finding.edit")


def _move(name: str, service: Any, says: str, shape: Any, rule: str = "") -> Any:
    rule = rule or f"finding.{name.replace('-', '_')}"
    return move_view(FINDING, name, service, says, shape=shape, rule=rule)


S = services
MOVES = {
    "rest-on": _move(
        "rest-on", S.rest_finding_on, "Rest it on this evidence and no other.", shapes.EvidenceIdsIn, "finding.edit"
    ),
    "state-position": _move("state-position", S.state_position, "Concur, or dissent.", shapes.PositionIn),
    "adopt": _move("adopt", S.adopt_finding, "Sign that the board adopts it.", SignedIn),
    "send-back": _move("send-back", S.send_back_finding, "Put it before the board again.", ReasonIn),
    "withdraw": _move("withdraw", S.withdraw_finding, "It doesn't count any more.", ReasonIn),
}
