"""Lessons in the JSON API: written, issued, offered, accepted or declined, tied to what was changed."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import lesson_shapes as shapes
from anomalies.api.activities import find as find_activity
from anomalies.api.doors import ReasonIn, SignedIn, check_shape, find_anomaly, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import Lesson, LessonUse, Procedure
from anomalies.models.lesson import LessonQuerySet
from anomalies.reads.lessons.offers import read_offers
from anomalies.services import lesson_uses, lessons
from config.kit.permissions import require


def list_whole(request: Request) -> LessonQuerySet:
    """Return the lessons that the person may see, with all that is shown of each."""
    uses = LessonUse.objects.select_related("lesson", "decided_by").order_by("pk")
    rows = Lesson.objects.visible_to(person_of(request)).select_related("author", "issued_by")
    return rows.prefetch_related("places", Prefetch("uses", queryset=uses))


def find_lesson(request: Request, number: str) -> Lesson:
    """Return the lesson if the person may see it, else answer 404."""
    return get_object_or_404(list_whole(request), number=number)


def find_use(request: Request, use_id: int) -> LessonUse:
    """Return the decision if the person may see it, else answer 404."""
    rows = LessonUse.objects.visible_to(person_of(request)).select_related("lesson", "decided_by")
    return get_object_or_404(rows, pk=use_id)


LESSON = Noun("lessons", "lesson_id", find_lesson, shapes.LessonOut)
USE = Noun("lesson-uses", "use_id", find_use, shapes.LessonUseOut)


class LessonListView(ListAPIView[Lesson]):
    """All lessons."""

    serializer_class = shapes.LessonOut

    def get_queryset(self) -> Any:
        """Return those the person may see, the latest first."""
        require(self.request.user, "anomaly.view")
        return list_whole(self.request)

    @extend_schema(tags=["lessons"])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them, with where each applies and what came of it."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["lessons"], request=shapes.LessonIn, responses={201: shapes.LessonOut})
    def post(self, request: Request) -> Response:
        """Draft a lesson from a closed anomaly, or from an activity that is over."""
        require(request.user, "lesson.add")
        made = lessons.write_lesson(actor=person_of(request), **check_shape(shapes.LessonIn, request))
        return LESSON.show(request, find_lesson(request, made.number), status.HTTP_201_CREATED)


class LessonUseView(APIView):
    """One decision on a lesson."""

    @extend_schema(tags=["lesson-uses"], responses=shapes.LessonUseOut)
    def get(self, request: Request, use_id: int) -> Response:
        """Show it."""
        return USE.show(request, find_use(request, use_id))


class AnomalyLessonsView(APIView):
    """The lessons that bear on an anomaly."""

    @extend_schema(tags=["anomalies"], responses=shapes.LessonOffersOut)
    def get(self, request: Request, number: str) -> Response:
        """Show which are offered and why, and what was decided."""
        return _show_offers(request, find_anomaly(request, number))


class ActivityLessonsView(APIView):
    """The lessons that bear on an activity."""

    @extend_schema(tags=["activities"], responses=shapes.LessonOffersOut)
    def get(self, request: Request, activity_id: int) -> Response:
        """Show which are offered and why, and what was decided."""
        return _show_offers(request, find_activity(request, activity_id))


class ProcedureLessonsView(APIView):
    """The lessons that bear on a procedure."""

    @extend_schema(tags=["procedures"], responses=shapes.LessonOffersOut)
    def get(self, request: Request, number: str) -> Response:
        """Show which are offered and why, and what was decided."""
        rows = Procedure.objects.visible_to(person_of(request))
        return _show_offers(request, get_object_or_404(rows, number=number))


def _show_offers(request: Request, place: Any) -> Response:
    require(request.user, "anomaly.view")
    return Response(shapes.LessonOffersOut(read_offers(place), context={"request": request}).data)


show_lesson = edit_view(LESSON, lessons.edit_lesson, "One lesson.", shape=shapes.LessonEdit, rule="lesson.edit")

MOVES = {
    "place": move_view(
        LESSON,
        "place",
        lessons.place_lesson,
        "Say one more thing that it applies to.",
        shape=shapes.LessonPlaceIn,
        rule="lesson.place",
    ),
    "drop-place": move_view(
        LESSON,
        "drop-place",
        lessons.unplace_lesson,
        "Take a thing off that it doesn't apply to.",
        shape=shapes.LessonPlaceKeyIn,
        rule="lesson.place",
    ),
    "issue": move_view(
        LESSON,
        "issue",
        lessons.issue_lesson,
        "Issue the draft, signed by somebody who didn't write it.",
        shape=SignedIn,
        rule="lesson.issue",
    ),
    "decide": move_view(
        LESSON,
        "decide",
        lesson_uses.decide_lesson,
        "Accept or decline it for an anomaly, an activity or a procedure.",
        shape=shapes.LessonDecisionIn,
        rule="lesson.decide",
    ),
    "retire": move_view(
        LESSON, "retire", lessons.retire_lesson, "Offer it no more.", shape=ReasonIn, rule="lesson.retire"
    ),
    "restore": move_view(
        LESSON, "restore", lessons.restore_lesson, "Make it a draft again.", shape=ReasonIn, rule="lesson.restore"
    ),
}
USE_MOVES = {
    "tie": move_view(
        USE,
        "tie",
        lesson_uses.tie_lesson_use,
        "Tie the accepted lesson to what was changed for it.",
        shape=shapes.LessonChangeIn,
        rule="lesson_use.tie",
    ),
    "withdraw": move_view(
        USE,
        "withdraw",
        lesson_uses.withdraw_lesson_use,
        "Take the decision back.",
        shape=ReasonIn,
        rule="lesson_use.withdraw",
    ),
}
