"""Readiness of activities in the JSON API: list, poll, verdict, waivers, what kinds of activity ask for."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import readiness_shapes as shapes
from anomalies.api.activities import find as find_activity
from anomalies.api.doors import ReasonIn, check_shape, person_of
from anomalies.api.move_views import NothingIn, Noun, edit_view, move_view
from anomalies.models import (
    Fulfilment,
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    Requirement,
    Waiver,
)
from anomalies.reads.readiness.checklist import read_checklist
from anomalies.reads.readiness.since import read_since
from anomalies.services import readiness as services
from anomalies.services import requirements as asking
from anomalies.services import waivers
from anomalies.services.sign_off import confirm_password
from config.kit.permissions import require

Shape = type[serializers.Serializer[Any]]


def find_review(request: Request, review_id: int) -> ReadinessReview:
    """Return the review if the person may see it, else answer 404."""
    rows = ReadinessReview.objects.visible_to(person_of(request)).select_related("activity")
    return get_object_or_404(rows, pk=review_id)


def find_position(request: Request, position_id: int) -> PollPosition:
    """Return the position if the person may see it, else answer 404."""
    rows = PollPosition.objects.visible_to(person_of(request)).select_related("person")
    return get_object_or_404(rows, pk=position_id)


def find_answer(request: Request, answer_id: int) -> PollAnswer:
    """Return the answer if the person may see it, else answer 404."""
    rows = PollAnswer.objects.visible_to(person_of(request)).select_related("position", "answered_by")
    return get_object_or_404(rows, pk=answer_id)


def find_waiver(request: Request, waiver_id: int) -> Waiver:
    """Return the waiver if the person may see it, else answer 404."""
    return get_object_or_404(Waiver.objects.visible_to(person_of(request)).select_related("granted_by"), pk=waiver_id)


def find_requirement(request: Request, requirement_id: int) -> Requirement:
    """Return the requirement if the person may see it, else answer 404."""
    rows = Requirement.objects.visible_to(person_of(request)).select_related("hardware_type")
    return get_object_or_404(rows, pk=requirement_id)


def find_fulfilment(request: Request, fulfilment_id: int) -> Fulfilment:
    """Return it if the person may see it, else answer 404."""
    rows = Fulfilment.objects.visible_to(person_of(request)).select_related("person")
    return get_object_or_404(rows, pk=fulfilment_id)


REVIEW = Noun("reviews", "review_id", find_review, shapes.ReviewOut)
POSITION = Noun("positions", "position_id", find_position, shapes.PollPositionOut)
ANSWER = Noun("answers", "answer_id", find_answer, shapes.AnswerOut)
WAIVER = Noun("waivers", "waiver_id", find_waiver, shapes.WaiverOut)
REQUIREMENT = Noun("requirements", "requirement_id", find_requirement, shapes.RequirementOut)
FULFILMENT = Noun("fulfilments", "fulfilment_id", find_fulfilment, shapes.FulfilmentOut)


class ChecklistView(APIView):
    """The list of an activity."""

    @extend_schema(tags=["activities"], responses=shapes.ChecklistOut)
    def get(self, request: Request, activity_id: int) -> Response:
        """Show what must be so before it, and how each item stands now."""
        activity = find_activity(request, activity_id)
        require(request.user, "readiness_review.view")
        review = ReadinessReview.objects.filter(activity=activity).first()
        return Response(shapes.ChecklistOut(read_checklist(activity, review)).data)


class SinceView(APIView):
    """What differs from the last activity of the kind."""

    @extend_schema(tags=["activities"], responses=shapes.SinceOut(many=True))
    def get(self, request: Request, activity_id: int) -> Response:
        """List it; empty where no earlier one was held."""
        activity = find_activity(request, activity_id)
        require(request.user, "readiness_review.view")
        found = read_since(activity)
        return Response(shapes.SinceOut(found.differences if found else (), many=True).data)


def add_view(name: str, service: Any, says: str, *, shape: Shape, rule: str, noun: Noun) -> Any:
    """Return the view that adds something to an activity, and shows what was added."""

    @extend_schema(tags=["activities"], request=shape, responses={201: noun.out})
    def post(self: APIView, request: Request, activity_id: int) -> Response:
        activity = find_activity(request, activity_id)
        require(request.user, rule, activity)
        given = check_shape(shape, request)
        if "password" in given:
            given["proof"] = confirm_password(actor=person_of(request), password=given.pop("password"))
        made = service(activity_id=activity.pk, actor=person_of(request), **given)
        return noun.show(request, noun.find(request, made.pk), status.HTTP_201_CREATED)

    post.__doc__ = says
    return type(f"{name}View", (APIView,), {"post": post, "__doc__": says}).as_view()  # type: ignore[attr-defined]


ADDS = {
    "open-review": add_view(
        "OpenReview",
        services.open_review,
        "Open its readiness review.",
        shape=NothingIn,
        rule="readiness_review.open",
        noun=REVIEW,
    ),
    "set-position": add_view(
        "SetPosition",
        services.set_position,
        "Ask a position in its poll, and name who speaks for it.",
        shape=shapes.PollPositionIn,
        rule="poll_position.set",
        noun=POSITION,
    ),
    "record-fulfilment": add_view(
        "RecordFulfilment",
        asking.record_fulfilment,
        "Record that something its kind asks for was done.",
        shape=shapes.FulfilmentIn,
        rule="fulfilment.record",
        noun=FULFILMENT,
    ),
    "grant-waiver": add_view(
        "GrantWaiver",
        waivers.grant_waiver,
        "Accept an open item of its list, signed.",
        shape=shapes.WaiverIn,
        rule="waiver.grant",
        noun=WAIVER,
    ),
}


class DropPositionView(APIView):
    """Taking a position out of a poll."""

    @extend_schema(tags=["activities"], request=shapes.PositionNameIn, responses={204: None})
    def post(self, request: Request, activity_id: int) -> Response:
        """Ask it no more."""
        activity = find_activity(request, activity_id)
        require(request.user, "poll_position.set", activity)
        given = check_shape(shapes.PositionNameIn, request)
        services.drop_from_poll(activity_id=activity.pk, actor=person_of(request), **given)
        return Response(status=status.HTTP_204_NO_CONTENT)


class ReviewView(APIView):
    """One review."""

    @extend_schema(tags=["reviews"], responses=shapes.ReviewOut)
    def get(self, request: Request, review_id: int) -> Response:
        """Show it."""
        return REVIEW.show(request, find_review(request, review_id))


class SnapshotsView(APIView):
    """The rounds of a review that ended."""

    @extend_schema(tags=["reviews"], responses=shapes.SnapshotOut(many=True))
    def get(self, request: Request, review_id: int) -> Response:
        """List them, the latest first, each as it was signed."""
        review = find_review(request, review_id)
        rows = ReadinessSnapshot.objects.filter(review=review).select_related("taken_by")
        return Response(shapes.SnapshotOut(rows, many=True).data)


class WaiverView(APIView):
    """One waiver."""

    @extend_schema(tags=["waivers"], responses=shapes.WaiverOut)
    def get(self, request: Request, waiver_id: int) -> Response:
        """Show it."""
        return WAIVER.show(request, find_waiver(request, waiver_id))


class FulfilmentView(APIView):
    """That something was done for an activity."""

    @extend_schema(tags=["fulfilments"], responses=shapes.FulfilmentOut)
    def get(self, request: Request, fulfilment_id: int) -> Response:
        """Show it."""
        return FULFILMENT.show(request, find_fulfilment(request, fulfilment_id))


class RequirementListView(ListAPIView[Requirement]):
    """What kinds of activity ask for."""

    serializer_class = shapes.RequirementOut

    def get_queryset(self) -> Any:
        """Return those the person may see."""
        require(self.request.user, "activity.view")
        return Requirement.objects.visible_to(person_of(self.request)).select_related("hardware_type").order_by("pk")

    @extend_schema(tags=["requirements"])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List it."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["requirements"], request=shapes.RequirementIn, responses={201: shapes.RequirementOut})
    def post(self, request: Request) -> Response:
        """Ask for something."""
        require(request.user, "requirement.add")
        given = check_shape(shapes.RequirementIn, request)
        made = asking.add_requirement(actor=person_of(request), **given)
        return REQUIREMENT.show(request, find_requirement(request, made.pk), status.HTTP_201_CREATED)


class StandardPositionsView(APIView):
    """The positions that polls of a kind ask."""

    @extend_schema(tags=["requirements"], request=shapes.StandardPositionIn, responses={204: None})
    def post(self, request: Request) -> Response:
        """Ask a position in reviews that open from now on."""
        require(request.user, "standard_position.set")
        asking.ask_position(actor=person_of(request), **check_shape(shapes.StandardPositionIn, request))
        return Response(status=status.HTTP_204_NO_CONTENT)


show_requirement = edit_view(
    REQUIREMENT, asking.edit_requirement, "One requirement.", shape=shapes.RequirementEditIn, rule="requirement.edit"
)
REQUIREMENT_MOVES = {
    "retire": move_view(
        REQUIREMENT, "retire", asking.retire_requirement, "Retire it.", shape=ReasonIn, rule="requirement.retire"
    ),
    "restore": move_view(
        REQUIREMENT, "restore", asking.restore_requirement, "Ask again.", shape=ReasonIn, rule="requirement.restore"
    ),
}
REVIEW_MOVES = {
    "conclude": move_view(
        REVIEW,
        "conclude",
        services.conclude_review,
        "Sign the verdict.",
        shape=shapes.ConcludeIn,
        rule="readiness_review.conclude",
    ),
    "resume": move_view(
        REVIEW,
        "resume",
        services.resume_review,
        "Begin another round.",
        shape=ReasonIn,
        rule="readiness_review.resume",
    ),
}
WAIVER_MOVES = {
    "withdraw": move_view(
        WAIVER, "withdraw", waivers.withdraw_waiver, "Take it back.", shape=ReasonIn, rule="waiver.withdraw"
    ),
}
FULFILMENT_MOVES = {
    "withdraw": move_view(
        FULFILMENT,
        "withdraw",
        asking.withdraw_fulfilment,
        "It doesn't count.",
        shape=ReasonIn,
        rule="fulfilment.withdraw",
    ),
}
answer = move_view(
    POSITION, "answer", services.answer_poll, "Answer the poll.", shape=shapes.AnswerIn, rule="poll_position.answer"
)
settle = move_view(
    ANSWER,
    "settle",
    services.settle_condition,
    "Its condition is met.",
    shape=shapes.SettleIn,
    rule="poll_answer.settle",
)
