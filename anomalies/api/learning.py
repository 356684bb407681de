"""Failure modes, exposure and proposed values in the JSON API."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.doors import ReasonIn, check_shape, open_moves, person_of
from anomalies.api.move_views import Noun, move_view
from anomalies.models import ExposureEntry, FailureMode, Measure, ParameterUpdate
from anomalies.reads.learning import ModeView, read_mode
from anomalies.services import exposure as exposure_services
from anomalies.services import learning as services
from anomalies.states import EXPOSURE, PARAMETER_UPDATE
from config.kit.permissions import require

NUMBERS = ("mean", "error_factor", "a", "b")
PRIORS = ("library", "jeffreys", "constrained", "gamma", "beta", "lognormal")


class FailureModeOut(serializers.Serializer[Any]):
    """A failure mode with what was counted of it; limits are exact and leave 5 % on each side."""

    id = serializers.IntegerField(source="mode.pk")
    code = serializers.CharField(source="mode.code")
    name = serializers.CharField(source="mode.name")
    hardware_type = serializers.CharField(source="mode.hardware_type.part_number")
    measure = serializers.ChoiceField(Measure.choices, source="mode.measure")
    informs = serializers.CharField(source="shared.name", allow_null=True, default=None)
    occurrences = serializers.IntegerField(source="count")
    exposure = serializers.FloatField(source="exposure.total")
    rate = serializers.FloatField(source="estimate", allow_null=True)
    rate_p05 = serializers.FloatField(source="low", allow_null=True)
    rate_p95 = serializers.FloatField(source="high", allow_null=True)


class ExposureOut(serializers.ModelSerializer[ExposureEntry]):
    """An entry of the exposure log."""

    hardware_type = serializers.CharField(source="hardware_type.part_number")
    entered_by = serializers.CharField(source="entered_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = ExposureEntry
        fields = (
            *("id", "hardware_type", "measure", "amount", "start", "end", "activity_id", "source", "entered_by"),
            *("entered_at", "state", "version", "moves"),
        )

    def get_moves(self, entry: ExposureEntry) -> list[str]:
        """Return the moves that are open."""
        return open_moves(EXPOSURE, entry, self.context["request"].user)


class UpdateOut(serializers.ModelSerializer[ParameterUpdate]):
    """A value that prior and experience propose for a shared parameter or event."""

    item = serializers.CharField(source="item.name")
    failure_mode = serializers.CharField(source="failure_mode.code", allow_null=True, default=None)
    proposed_by = serializers.CharField(source="proposed_by.username")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = ParameterUpdate
        fields = (
            *("id", "item", "failure_mode", "seen", "prior", "prior_source", "data", "posterior", "expression"),
            *("note", "proposed_by", "proposed_at", "decision_note", "decided_at", "state", "version", "moves"),
        )

    def get_moves(self, row: ParameterUpdate) -> list[str]:
        """Return the moves that are open."""
        return open_moves(PARAMETER_UPDATE, row, self.context["request"].user)


class ProposalIn(serializers.Serializer[Any]):
    """The prior; its numbers as it needs them."""

    prior = serializers.ChoiceField(PRIORS, default="library")
    prior_source = serializers.CharField(max_length=50_000, required=False, allow_blank=True)
    note = serializers.CharField(max_length=50_000, required=False, allow_blank=True)
    mean = serializers.FloatField(min_value=0.0, required=False)
    error_factor = serializers.FloatField(min_value=1.0, required=False)
    a = serializers.FloatField(min_value=0.0, required=False)
    b = serializers.FloatField(min_value=0.0, required=False)


class DecisionIn(serializers.Serializer[Any]):
    """Why."""

    note = serializers.CharField(max_length=50_000)


def find_mode(request: Request, failure_mode_id: int) -> FailureMode:
    """Return the failure mode if the person may see it, else answer 404."""
    rows = FailureMode.objects.visible_to(person_of(request)).select_related("hardware_type", "item")
    return get_object_or_404(rows, pk=failure_mode_id)


def find_exposure(request: Request, exposure_id: int) -> ExposureEntry:
    """Return the entry if the person may see it, else answer 404."""
    rows = ExposureEntry.objects.visible_to(person_of(request)).select_related("hardware_type", "entered_by")
    return get_object_or_404(rows, pk=exposure_id)


def find_update(request: Request, update_id: int) -> ParameterUpdate:
    """Return the proposal if the person may see it, else answer 404."""
    rows = ParameterUpdate.objects.visible_to(person_of(request)).select_related("item", "failure_mode", "proposed_by")
    return get_object_or_404(rows, pk=update_id)


ENTRY = Noun("exposure", "exposure_id", find_exposure, ExposureOut)
UPDATE = Noun("updates", "update_id", find_update, UpdateOut)


class ModesView(APIView):
    """All failure modes."""

    @extend_schema(tags=["failure-modes"], responses=FailureModeOut(many=True))
    def get(self, request: Request) -> Response:
        """List them, with what was counted."""
        require(request.user, "anomaly.view")
        rows = FailureMode.objects.visible_to(person_of(request)).select_related("hardware_type", "item")
        views: list[ModeView] = [read_mode(mode) for mode in rows]
        return Response(FailureModeOut(views, many=True).data)


class FailureModeView(APIView):
    """One failure mode."""

    @extend_schema(tags=["failure-modes"], responses=FailureModeOut)
    def get(self, request: Request, failure_mode_id: int) -> Response:
        """Show it, with what was counted."""
        return Response(FailureModeOut(read_mode(find_mode(request, failure_mode_id))).data)


class ProposeView(APIView):
    """Proposing a value."""

    @extend_schema(tags=["failure-modes"], request=ProposalIn, responses={201: UpdateOut})
    def post(self, request: Request, failure_mode_id: int) -> Response:
        """Propose what prior and experience give together; nothing of the library changes."""
        mode = find_mode(request, failure_mode_id)
        require(request.user, "parameter_update.propose", mode)
        given = check_shape(ProposalIn, request)
        numbers: dict[str, float | None] = {
            name: given.pop(name) for name in ("mean", "error_factor", "a", "b") if name in given
        }
        made = services.propose_update(failure_mode_id=mode.pk, actor=person_of(request), numbers=numbers, **given)
        return UPDATE.show(request, find_update(request, made.pk), status.HTTP_201_CREATED)


class ExposureView(APIView):
    """One entry of the exposure log."""

    @extend_schema(tags=["exposure"], responses=ExposureOut)
    def get(self, request: Request, exposure_id: int) -> Response:
        """Show it."""
        return ENTRY.show(request, find_exposure(request, exposure_id))


class UpdateView(APIView):
    """One proposed value."""

    @extend_schema(tags=["updates"], responses=UpdateOut)
    def get(self, request: Request, update_id: int) -> Response:
        """Show it."""
        return UPDATE.show(request, find_update(request, update_id))


EXPOSURE_MOVES = {
    "withdraw": move_view(
        ENTRY,
        "withdraw",
        exposure_services.withdraw_exposure,
        "It doesn't count.",
        shape=ReasonIn,
        rule="exposure.withdraw",
    ),
}
UPDATE_MOVES = {
    "accept": move_view(
        UPDATE, "accept", services.accept_update, "Take it.", shape=DecisionIn, rule="parameter_update.accept"
    ),
    "refuse": move_view(
        UPDATE, "refuse", services.refuse_update, "Refuse it.", shape=DecisionIn, rule="parameter_update.refuse"
    ),
    "withdraw": move_view(
        UPDATE, "withdraw", services.withdraw_update, "Withdraw it.", shape=DecisionIn, rule="parameter_update.withdraw"
    ),
}
