"""The JSON API: each view finds its record, checks a shape, calls one service."""

from __future__ import annotations

from typing import Any, cast

from django.contrib.auth.models import User
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.generics import ListAPIView
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.kit.addresses import read_text
from config.kit.api_schema import RefusalOut
from config.kit.errors import WrongState
from config.kit.permissions import require
from faulttree.api.serializers import FileIn, RevisionOut, RunIn, RunOut, TreeIn, TreeOut
from faulttree.models import Run, Tree, TreeRevision
from faulttree.models.run import RunQuerySet
from faulttree.models.tree import TreeQuerySet
from faulttree.services.runs import cancel_run, request_run
from faulttree.services.trees import import_tree, revise_tree


@extend_schema(tags=["trees"])
class TreesView(ListAPIView[Tree]):
    """All trees, and the import of a new one."""

    serializer_class = TreeOut
    parser_classes = (MultiPartParser,)

    def get_queryset(self) -> TreeQuerySet:
        """The trees that hold the words of `words`."""
        require(self.request.user, "tree.view")
        words = read_text(self.request.query_params.dict())
        return Tree.objects.visible_to(self.request.user).matching(words).select_related("owner")

    @extend_schema(parameters=[OpenApiParameter("words", str, description="Words in name or label.")])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the trees."""
        return super().get(request, *args, **kwargs)

    @extend_schema(request=TreeIn, responses={201: TreeOut})
    def post(self, request: Request) -> Response:
        """Make a tree from a file in exchange XML or plain JSON, as its revision 1; kept as exchange XML."""
        require(request.user, "tree.import")
        data = _checked(TreeIn, request)
        file = data.pop("file")
        revision = import_tree(actor=_person(request), source=file.read(), file_name=file.name, **data)
        return Response(TreeOut(revision.tree).data, status=status.HTTP_201_CREATED)


@extend_schema(tags=["trees"])
class RevisionsView(APIView):
    """The revisions of a tree, newest first."""

    parser_classes = (MultiPartParser,)

    @extend_schema(responses=RevisionOut(many=True))
    def get(self, request: Request, tree_id: int) -> Response:
        """List the revisions."""
        tree = get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)
        return Response(RevisionOut(tree.revisions.without_source().select_related("author"), many=True).data)

    @extend_schema(request=FileIn, responses={201: RevisionOut})
    def post(self, request: Request, tree_id: int) -> Response:
        """Add a revision from a file in exchange XML or plain JSON; kept as exchange XML."""
        tree = get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)
        require(request.user, "tree.revise", tree)
        data = _checked(FileIn, request)
        file = data.pop("file")
        revision = revise_tree(tree_id=tree.pk, actor=_person(request), source=file.read(), file_name=file.name, **data)
        return Response(RevisionOut(revision).data, status=status.HTTP_201_CREATED)


@extend_schema(tags=["runs"])
class RevisionRunsView(APIView):
    """The runs of a revision, newest first."""

    @extend_schema(responses=RunOut(many=True))
    def get(self, request: Request, tree_id: int, number: int) -> Response:
        """List the latest hundred runs."""
        revision = _find_revision(request, tree_id, number)
        return Response(RunOut(_with_names(revision.runs.without_result())[:100], many=True).data)

    @extend_schema(request=RunIn, responses={202: RunOut})
    def post(self, request: Request, tree_id: int, number: int) -> Response:
        """Ask for a run; an equal one that is there already is returned instead."""
        revision = _find_revision(request, tree_id, number)
        require(request.user, "run.request", revision)
        asked = RunIn(data=request.data)
        asked.is_valid(raise_exception=True)
        run = request_run(
            revision_id=revision.pk,
            actor=_person(request),
            request=asked.to_request(),
            nodes=asked.validated_data["nodes"],
            seconds=asked.validated_data["seconds"],
        )
        return Response(RunOut(run).data, status=status.HTTP_202_ACCEPTED)


@extend_schema(tags=["runs"])
class RunView(APIView):
    """One run."""

    @extend_schema(responses=RunOut)
    def get(self, request: Request, run_id: int) -> Response:
        """Show how far it is."""
        return Response(RunOut(_find_run(request, run_id)).data)


@extend_schema(tags=["runs"])
class RunResultView(APIView):
    """The answer of a run."""

    @extend_schema(responses={200: OpenApiTypes.OBJECT, 409: RefusalOut})
    def get(self, request: Request, run_id: int) -> Response:
        """Show the answer, as `manage.py quantify --json` gives it; 409 while there is none."""
        run = get_object_or_404(Run.objects.visible_to(request.user), pk=run_id)
        if run.result is None:
            raise WrongState("This run has no answer.", code="no_answer")
        return Response(run.result)


@extend_schema(tags=["runs"])
class RunCancelView(APIView):
    """Cancelling a run."""

    @extend_schema(request=None, responses={202: RunOut})
    def post(self, request: Request, run_id: int) -> Response:
        """Cancel it; a worker that computes it stops within a second."""
        run = cancel_run(run_id=_find_run(request, run_id).pk, actor=_person(request))
        return Response(RunOut(run).data, status=status.HTTP_202_ACCEPTED)


def _person(request: Request) -> User:
    return cast(User, request.user)  # the API lets in nobody who isn't logged in


def _checked(shape: type[FileIn], request: Request) -> dict[str, Any]:
    serializer = shape(data=request.data)
    serializer.is_valid(raise_exception=True)
    return dict(serializer.validated_data)


def _with_names(runs: RunQuerySet) -> RunQuerySet:
    return runs.select_related("revision", "requested_by").defer("result", "revision__source")


def _find_revision(request: Request, tree_id: int, number: int) -> TreeRevision:
    visible = TreeRevision.objects.visible_to(request.user).without_source()
    return get_object_or_404(visible, tree_id=tree_id, number=number)


def _find_run(request: Request, run_id: int) -> Run:
    return get_object_or_404(_with_names(Run.objects.visible_to(request.user)), pk=run_id)
