"""The timeline in the JSON API."""

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

from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of, without
from anomalies.api.evidence_shapes import EntryChanges, EntryIn, EntryOut
from anomalies.models import TimelineEntry
from anomalies.services.timeline import add_timeline_entry, edit_timeline_entry, withdraw_timeline_entry
from config.kit.permissions import require


@extend_schema(tags=["timeline"])
class AnomalyTimelineView(ListAPIView[TimelineEntry]):
    """The timeline of one anomaly, in the order of time; withdrawn entries too."""

    serializer_class = EntryOut

    def get_queryset(self) -> QuerySet[TimelineEntry]:
        """Return the entries."""
        anomaly = find_anomaly(self.request, self.kwargs["number"])
        return _visible(self.request).filter(anomaly=anomaly).order_by("at", "pk")

    @extend_schema(request=EntryIn, responses={201: EntryOut})
    def post(self, request: Request, number: str) -> Response:
        """Add an entry."""
        anomaly = find_anomaly(request, number)
        require(request.user, "anomaly.gather", anomaly)
        made = add_timeline_entry(anomaly_id=anomaly.pk, actor=person_of(request), **check_shape(EntryIn, request))
        return Response(_show(made, request), status=status.HTTP_201_CREATED)


@extend_schema(tags=["timeline"])
class TimelineEntryView(APIView):
    """One entry."""

    @extend_schema(responses=EntryOut)
    def get(self, request: Request, entry_id: int) -> Response:
        """Show it."""
        return Response(_show(_find(request, entry_id), request))

    @extend_schema(request=EntryChanges, responses=EntryOut)
    def patch(self, request: Request, entry_id: int) -> Response:
        """Correct it; 409 with both versions if somebody else was first."""
        found = _find(request, entry_id)
        require(request.user, "timeline_entry.edit", found)
        sent = check_shape(EntryChanges, request)
        given = {"version": sent["version"], "changes": without(sent, "version")}
        edit_timeline_entry(entry_id=found.pk, actor=person_of(request), **given)
        return Response(_show(_find(request, entry_id), request))


@extend_schema(tags=["timeline"], request=ReasonIn, responses=EntryOut)
class TimelineEntryWithdrawView(APIView):
    """Withdrawing an entry."""

    def post(self, request: Request, entry_id: int) -> Response:
        """Say why it doesn't count any more."""
        found = _find(request, entry_id)
        require(request.user, "timeline_entry.withdraw", found)
        reason = check_shape(ReasonIn, request)["reason"]
        withdraw_timeline_entry(entry_id=found.pk, actor=person_of(request), reason=reason)
        return Response(_show(_find(request, entry_id), request))


def _visible(request: Request) -> QuerySet[TimelineEntry]:
    return TimelineEntry.objects.visible_to(person_of(request)).select_related("anomaly", "added_by")


def _find(request: Request, entry_id: int) -> TimelineEntry:
    return get_object_or_404(_visible(request), pk=entry_id)


def _show(entry: TimelineEntry, request: Request) -> dict[str, Any]:
    return dict(EntryOut(entry, context={"request": request}).data)
