"""The board's meetings in the JSON API."""

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

from anomalies.api import meeting_shapes as shapes
from anomalies.api.doors import ReasonIn, check_shape, person_of
from anomalies.api.move_views import NothingIn, Noun, edit_view, move_view
from anomalies.models import BoardMeeting, MeetingDecision
from anomalies.reads.meetings.minutes import read_minutes
from anomalies.reads.meetings.page import find_agenda
from anomalies.services import meetings as services
from config.kit.api_schema import RefusalOut
from config.kit.errors import WrongState
from config.kit.permissions import require

NO_AGENDA = "A meeting that was cancelled has no agenda."


def find_meeting(request: Request, meeting_id: int) -> BoardMeeting:
    """Return the meeting if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=meeting_id)


def find_decision(request: Request, decision_id: int) -> MeetingDecision:
    """Return the decision if the person may see it, else answer 404."""
    rows = MeetingDecision.objects.visible_to(person_of(request)).select_related("anomaly", "recorded_by")
    return get_object_or_404(rows, pk=decision_id)


def _visible(request: Request) -> QuerySet[BoardMeeting]:
    rows = BoardMeeting.objects.visible_to(person_of(request)).select_related("chair")
    return rows.prefetch_related("attendances__person")


MEETING = Noun("meetings", "meeting_id", find_meeting, shapes.MeetingOut)
DECISION = Noun("meeting-decisions", "decision_id", find_decision, shapes.MeetingDecisionOut)


class MeetingListView(ListAPIView[BoardMeeting]):
    """Meetings of the board, the latest first."""

    serializer_class = shapes.MeetingOut

    def get_queryset(self) -> QuerySet[BoardMeeting]:
        """Return those the person may see."""
        require(self.request.user, "anomaly.view")
        return _visible(self.request)

    @extend_schema(tags=["meetings"])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["meetings"], request=shapes.MeetingIn, responses={201: shapes.MeetingOut})
    def post(self, request: Request) -> Response:
        """Plan one."""
        require(request.user, "board_meeting.plan")
        made = services.plan_meeting(actor=person_of(request), **check_shape(shapes.MeetingIn, request))
        return MEETING.show(request, find_meeting(request, made.pk), status.HTTP_201_CREATED)


class AgendaView(APIView):
    """The agenda of a meeting."""

    @extend_schema(tags=["meetings"], responses={200: shapes.AgendaOut, 409: RefusalOut})
    def get(self, request: Request, meeting_id: int) -> Response:
        """Show it as it is now or, once the meeting has ended, as it stood then; 409 for one that was cancelled."""
        meeting = find_meeting(request, meeting_id)
        agenda = find_agenda(meeting)
        if agenda is None:
            raise WrongState(NO_AGENDA)
        items = [item for group in agenda.groups_for(request.user) for item in group.items]
        shown = {"at": agenda.at, "is_kept": bool(meeting.agenda_left), "items": items}
        return Response(shapes.AgendaOut(shown).data)


class MinutesView(APIView):
    """The minutes of a meeting."""

    @extend_schema(tags=["meetings"], responses={200: shapes.MinutesOut, 409: RefusalOut})
    def get(self, request: Request, meeting_id: int) -> Response:
        """Show them, so far or of all of it; 409 before it's opened."""
        minutes = read_minutes(find_meeting(request, meeting_id))
        lines = [line for chapter in minutes.chapters_for(request.user) for line in chapter.lines]
        shown = shapes.MinutesOut(minutes, context={"request": request}).data
        return Response(shown | {"lines": shapes.MinutesLineOut(lines, many=True).data})


class DecisionsView(APIView):
    """The decisions of a meeting."""

    @extend_schema(tags=["meetings"], responses=shapes.MeetingDecisionOut(many=True))
    def get(self, request: Request, meeting_id: int) -> Response:
        """List them, with those that were withdrawn."""
        meeting = find_meeting(request, meeting_id)
        rows = meeting.decisions.select_related("anomaly", "recorded_by").order_by("pk")
        return Response(shapes.MeetingDecisionOut(rows, many=True, context={"request": request}).data)


class DecisionView(APIView):
    """One decision."""

    @extend_schema(tags=["meeting-decisions"], responses=shapes.MeetingDecisionOut)
    def get(self, request: Request, decision_id: int) -> Response:
        """Show it."""
        return DECISION.show(request, find_decision(request, decision_id))


def _move(name: str, service: Any, says: str, shape: Any = NothingIn) -> Any:
    return move_view(MEETING, name, service, says, shape=shape, rule=f"board_meeting.{name}")


show = edit_view(MEETING, services.edit_meeting, "One meeting.", shape=shapes.MeetingChanges, rule="board_meeting.edit")
MOVES = {
    "attend": _move("attend", services.expect_people, "Say who is expected; nobody else is.", shapes.PeopleIn),
    "open": _move("open", services.open_meeting, "It's under way, and its minutes begin."),
    "decide": _move("decide", services.record_decision, "Record what it decided.", shapes.MeetingDecisionIn),
    "end": _move("end", services.end_meeting, "It was held, and these people were there.", shapes.PeopleIn),
    "cancel": _move("cancel", services.cancel_meeting, "It won't be held.", ReasonIn),
}
withdraw = move_view(
    DECISION,
    "withdraw",
    services.withdraw_decision,
    "It doesn't count any more.",
    shape=ReasonIn,
    rule="meeting_decision.withdraw",
)
