"""Procedures, their revisions and steps in the JSON API."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import procedure_shapes as shapes
from anomalies.api.doors import ReasonIn, SignedIn, check_shape, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import Procedure, ProcedureRevision
from anomalies.reads.procedure_pages import ProcedureFilter, find_procedures, read_readers
from anomalies.reads.procedures import read_redline
from anomalies.services import revision_moves, revision_steps
from anomalies.services.procedures import add_procedure, draft_revision, edit_revision, rename_procedure
from config.kit.permissions import require

SHOWN_WITH = ("procedure", "base", "author", "approver", "anomaly", "action")


def find(request: Request, number: str) -> Procedure:
    """Return the procedure if the person may see it, else answer 404."""
    return get_object_or_404(Procedure.objects.visible_to(person_of(request)), number=number)


def find_revision(request: Request, number: str, revision: int) -> ProcedureRevision:
    """Return the revision if the person may see it, else answer 404."""
    visible = ProcedureRevision.objects.visible_to(person_of(request)).select_related(*SHOWN_WITH)
    return get_object_or_404(visible, procedure__number=number, number=revision)


PROCEDURE = Noun("procedures", "procedure_id", find, shapes.ProcedureOut)
REVISION = Noun("revisions", "revision_id", find_revision, shapes.ProcedureRevisionOut)


class ProcedureListView(ListAPIView[Procedure]):
    """Procedures, by number."""

    serializer_class = shapes.ProcedureOut

    def get_queryset(self) -> QuerySet[Procedure]:
        """Return what the filters let through."""
        require(self.request.user, "procedure.view")
        filters = shapes.ProcedureFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        return find_procedures(person_of(self.request), ProcedureFilter.read(filters.validated_data))

    @extend_schema(tags=["procedures"], parameters=[shapes.ProcedureFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["procedures"], request=shapes.ProcedureIn, responses={201: shapes.ProcedureOut})
    def post(self, request: Request) -> Response:
        """Add a procedure; it gets its number."""
        require(request.user, "procedure.add")
        made = add_procedure(actor=person_of(request), **check_shape(shapes.ProcedureIn, request))
        return PROCEDURE.show(request, made, status.HTTP_201_CREATED)


class RevisionListView(ListAPIView[ProcedureRevision]):
    """The revisions of a procedure, the newest first."""

    serializer_class = shapes.ProcedureRevisionRow

    def get_queryset(self) -> QuerySet[ProcedureRevision]:
        """Return them without their steps."""
        procedure = find(self.request, self.kwargs["number"])
        return procedure.revisions.defer("steps").select_related(*SHOWN_WITH).order_by("-number")

    @extend_schema(tags=["revisions"])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["revisions"], request=shapes.ProcedureRevisionIn, responses={201: shapes.ProcedureRevisionOut})
    def post(self, request: Request, number: str) -> Response:
        """Draft a revision, with the steps of the latest that was ever released."""
        procedure = find(request, number)
        require(request.user, "procedure.draft", procedure)
        given = check_shape(shapes.ProcedureRevisionIn, request)
        made = draft_revision(procedure_id=procedure.pk, actor=person_of(request), **given)
        return REVISION.show(request, find_revision(request, number, made.number), status.HTTP_201_CREATED)


@extend_schema(tags=["revisions"], responses=shapes.RedlineOut)
class RedlineView(APIView):
    """What a revision changes in the one it was drafted from, or in another earlier one."""

    @extend_schema(parameters=[shapes.RedlineIn])
    def get(self, request: Request, number: str, revision: int) -> Response:
        """Show it step by step and word by word."""
        found, before = find_revision(request, number, revision), None
        asked = shapes.RedlineIn(data=request.query_params)
        asked.is_valid(raise_exception=True)
        if "before" in asked.validated_data:
            earlier = found.procedure.revisions.filter(number__lt=found.number)
            before = get_object_or_404(earlier, number=asked.validated_data["before"])
        before = before or found.base
        redline = read_redline(found, before)
        lines = [asdict(line) for line in redline.lines]
        base = before.number if before else None
        return Response(shapes.RedlineOut({"base": base, "counts": redline.count(), "lines": lines}).data)


@extend_schema(tags=["revisions"], responses=shapes.ReaderOut(many=True))
class ReadersView(APIView):
    """Who must read a revision."""

    def get(self, request: Request, number: str, revision: int) -> Response:
        """Show the crew of activities to come for which it's in force, and when each read it."""
        readers = read_readers(find_revision(request, number, revision))
        return Response(shapes.ReaderOut(readers, many=True).data)


def _rename(*, procedure_id: int, actor: User, version: int, changes: dict[str, Any]) -> Procedure:
    return rename_procedure(procedure_id=procedure_id, actor=actor, version=version, **changes)


def _change_step(*, revision_id: int, actor: User, version: int, key: str, **changes: Any) -> ProcedureRevision:
    return revision_steps.change_revision_step(
        revision_id=revision_id, actor=actor, version=version, key=key, changes=changes
    )


show = edit_view(PROCEDURE, _rename, "One procedure.", shape=shapes.ProcedureChanges, rule="procedure.edit")
show_revision = edit_view(
    REVISION, edit_revision, "One revision.", shape=shapes.ProcedureRevisionChanges, rule="procedure_revision.edit"
)


def _move(name: str, service: Any, says: str, shape: Any) -> Any:
    return move_view(REVISION, name, service, says, shape=shape, rule=f"procedure_revision.{name.replace('-', '_')}")


def _edit(name: str, service: Any, says: str, shape: Any, *handing_on: str) -> Any:
    return move_view(REVISION, name, service, says, shape=shape, rule="procedure_revision.edit", handing_on=handing_on)


M, S = revision_moves, revision_steps
MOVES = {
    "submit": _move("submit", M.submit_revision, "Hand the draft in.", shapes.VersionIn),
    "send-back": _move("send-back", M.send_back_revision, "Make it a draft again.", ReasonIn),
    "approve": _move("approve", M.approve_revision, "Sign that it may be released.", SignedIn),
    "release": _move("release", M.release_revision, "Sign, and put it in force.", shapes.ReleaseIn),
    "withdraw": _move("withdraw", M.withdraw_revision, "Take it out of use.", ReasonIn),
    "acknowledge": move_view(
        REVISION,
        "acknowledge",
        M.acknowledge_revision,
        "Put on record that you have read it.",
        rule="procedure_revision.acknowledge",
    ),
    "steps": _edit("add step", S.add_revision_step, "Add a step.", shapes.StepIn),
    "steps/<str:key>/change": _edit("change step", _change_step, "Change a step.", shapes.StepChanges, "key"),
    "steps/<str:key>/move": _edit("move step", S.move_revision_step, "Move a step.", shapes.PlaceIn, "key"),
    "steps/<str:key>/delete": _edit("delete step", S.delete_revision_step, "Delete a step.", shapes.VersionIn, "key"),
    "steps/<str:step_key>/notices": _edit(
        "add notice", S.insert_revision_notice, "Warn before a step.", shapes.NoticeIn, "step_key"
    ),
    "notices/<str:key>/change": _edit(
        "change notice", S.change_revision_notice, "Change a warning.", shapes.NoticeIn, "key"
    ),
    "notices/<str:key>/remove": _edit(
        "remove notice", S.remove_revision_notice, "Remove a warning.", shapes.VersionIn, "key"
    ),
}
