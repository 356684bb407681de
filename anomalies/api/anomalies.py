"""Anomalies and drafts in the JSON API."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.anomaly_shapes import (
    AcceptIn,
    AnomalyFilters,
    AnomalyOut,
    AssignIn,
    CloseIn,
    EventOut,
    ItemIn,
    ReportIn,
    RiskIn,
    ScreenIn,
    StoryChanges,
)
from anomalies.api.doors import ReasonIn, check_shape, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import Anomaly
from anomalies.reads.history import read_history
from anomalies.reads.log import LogFilter, find_log
from anomalies.services.anomalies import (
    add_anomaly_hardware,
    discard_anomaly,
    draft_anomaly,
    edit_anomaly,
    remove_anomaly_hardware,
    report_anomaly,
    submit_anomaly,
)
from anomalies.services.closing import close_anomaly, reopen_anomaly
from anomalies.services.screening import (
    assign_anomaly,
    dismiss_anomaly,
    reassess_anomaly,
    restore_anomaly,
    screen_anomaly,
)
from anomalies.services.unexplained import accept_unexplained, retract_acceptance
from anomalies.web.dossier import find_parts
from config.kit.permissions import require


def find(request: Request, number: str) -> Anomaly:
    """Return the anomaly if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), number=number)


def find_draft(request: Request, draft_id: int) -> Anomaly:
    """Return the person's own draft, else answer 404; one that was reported since has its number."""
    return get_object_or_404(_visible(request), pk=draft_id, recorded_by=person_of(request))


def _visible(request: Request) -> QuerySet[Anomaly]:
    rows = Anomaly.objects.visible_to(person_of(request)).select_related("lead", "recorded_by")
    return rows.prefetch_related("hardware_concerned")


ANOMALY = Noun("anomalies", "anomaly_id", find, AnomalyOut)
DRAFT = Noun("drafts", "anomaly_id", find_draft, AnomalyOut)


@extend_schema(tags=["anomalies"])
class AnomalyListView(ListAPIView[Anomaly]):
    """Anomalies that you may see, as in the log; your own drafts too."""

    serializer_class = AnomalyOut

    def get_queryset(self) -> QuerySet[Anomaly]:
        """Return what the filters let through."""
        require(self.request.user, "anomaly.view")
        filters = AnomalyFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        given = {name: str(value) for name, value in filters.validated_data.items() if value is not False}
        rows = find_log(person_of(self.request), LogFilter.read(given))
        return rows.select_related("recorded_by").prefetch_related("hardware_concerned")

    @extend_schema(parameters=[AnomalyFilters], responses=AnomalyOut(many=True))
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(request=ReportIn, responses={201: AnomalyOut})
    def post(self, request: Request) -> Response:
        """Report what was seen; it gets its number. Or keep it as a draft."""
        require(request.user, "anomaly.report")
        given = check_shape(ReportIn, request)
        service = draft_anomaly if given.pop("is_draft") else report_anomaly
        made = service(actor=person_of(request), **given)
        return ANOMALY.show(request, _visible(request).get(pk=made.pk), status.HTTP_201_CREATED)


@extend_schema(tags=["anomalies"], responses=EventOut(many=True))
class AnomalyHistoryView(APIView):
    """The history of one anomaly."""

    def get(self, request: Request, number: str) -> Response:
        """Show every entry of the ledger about it and all that belongs to it, oldest first."""
        anomaly = find(request, number)
        events = [asdict(event) for event in read_history(anomaly, parts=find_parts(anomaly))]
        return Response(EventOut(events, many=True).data)


show = edit_view(ANOMALY, edit_anomaly, "One anomaly.", shape=StoryChanges, rule="anomaly.edit")
show_draft = edit_view(DRAFT, edit_anomaly, "One of your drafts.", shape=StoryChanges, rule="anomaly.edit")


def _move(name: str, service: Any, says: str, **more: Any) -> Any:
    return move_view(ANOMALY, name, service, says, rule=more.pop("rule", f"anomaly.{name}"), **more)


MOVES = {
    "screen": _move("screen", screen_anomaly, "Open the anomaly, with its risk and its lead.", shape=ScreenIn),
    "reassess": _move("reassess", reassess_anomaly, "Give it another risk.", shape=RiskIn),
    "assign": _move("assign", assign_anomaly, "Give the work to somebody else.", shape=AssignIn),
    "dismiss": _move("dismiss", dismiss_anomaly, "Say why the report is no anomaly.", shape=ReasonIn),
    "restore": _move("restore", restore_anomaly, "Take a dismissal back.", shape=ReasonIn),
    "add-hardware": _move(
        "add-hardware", add_anomaly_hardware, "Name one more item concerned.", shape=ItemIn, rule="anomaly.edit"
    ),
    "remove-hardware": _move(
        "remove-hardware", remove_anomaly_hardware, "Take an item off the list.", shape=ItemIn, rule="anomaly.edit"
    ),
    "accept-unexplained": _move(
        "accept-unexplained",
        accept_unexplained,
        "Sign that its risk is accepted, though it stays unexplained.",
        shape=AcceptIn,
        rule="anomaly.accept_unexplained",
    ),
    "retract-acceptance": _move(
        "retract-acceptance",
        retract_acceptance,
        "Its risk isn't accepted any more.",
        shape=ReasonIn,
        rule="anomaly.retract_acceptance",
    ),
    "close": _move("close", close_anomaly, "Sign that nothing is open.", shape=CloseIn),
    "reopen": _move("reopen", reopen_anomaly, "Open it again.", shape=ReasonIn),
}
DRAFT_MOVES = {
    "submit": move_view(DRAFT, "submit", submit_anomaly, "Report the draft.", rule="anomaly.submit"),
    "discard": move_view(DRAFT, "discard", discard_anomaly, "Give the draft up.", rule="anomaly.discard"),
}
