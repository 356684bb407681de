"""The timeline in the JSON API."""

from __future__ import annotations

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from anomalies.api.doors import ReasonIn, check_shape, find_anomaly, person_of
from anomalies.api.evidence_shapes import EntryChanges, EntryIn, EntryOut
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import TimelineEntry
from anomalies.services.timeline import add_timeline_entry, edit_timeline_entry, withdraw_timeline_entry
from config.kit.permissions import require


def find(request: Request, entry_id: int) -> TimelineEntry:
    """Return the entry if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=entry_id)


def _visible(request: Request) -> QuerySet[TimelineEntry]:
    return TimelineEntry.objects.visible_to(person_of(request)).select_related("anomaly", "added_by")


ENTRY = Noun("timeline", "entry_id", find, EntryOut)


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
        return ENTRY.show(request, made, status.HTTP_201_CREATED)


show = edit_view(ENTRY, edit_timeline_entry, "One entry.", shape=EntryChanges, rule="timeline_entry.edit")
WITHDRAW = "Say why it doesn't count any more."
MOVES = {
    "withdraw": move_view(
        ENTRY, "withdraw", withdraw_timeline_entry, WITHDRAW, shape=ReasonIn, rule="timeline_entry.withdraw"
    )
}
