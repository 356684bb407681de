"""Variants of trees in the JSON API; the pages call the same services."""

from __future__ import annotations

from typing import Any, cast

from django.contrib.auth.models import User
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.kit.permissions import require
from faulttree.api.variant_shapes import ComparisonOut, VariantChangeIn, VariantIn, VariantOut, show_comparison
from faulttree.models import Tree, Variant
from faulttree.reads.comparison import compare, find_compared_revision, find_setting, read_hours
from faulttree.services.variants import add_variant, change_variant, remove_variant


@extend_schema(tags=["variants"])
class VariantsView(APIView):
    """The variants of a tree, by name."""

    @extend_schema(responses=VariantOut(many=True))
    def get(self, request: Request, tree_id: int) -> Response:
        """List the variants."""
        tree = _find_tree(request, tree_id)
        return Response(VariantOut(tree.variants.select_related("author"), many=True).data)

    @extend_schema(request=VariantIn, responses={201: VariantOut})
    def post(self, request: Request, tree_id: int) -> Response:
        """Add a variant; its overrides are checked with the newest revision."""
        tree = _find_tree(request, tree_id)
        require(request.user, "variant.add", tree)
        data = _checked(VariantIn, request)
        variant = add_variant(tree_id=tree.pk, actor=_person(request), **data)
        return Response(VariantOut(variant).data, status=status.HTTP_201_CREATED)


@extend_schema(tags=["variants"])
class ComparisonView(APIView):
    """The variants of a tree beside the tree as it stands."""

    @extend_schema(
        parameters=[
            OpenApiParameter("revision", int, description="Number of a revision; the newest where left out."),
            OpenApiParameter("top", str, description="Top event; that of the newest run where left out."),
            OpenApiParameter("hours", float, description="Mission time, h; that of the newest run where left out."),
        ],
        responses=ComparisonOut,
    )
    def get(self, request: Request, tree_id: int) -> Response:
        """Compare them; what takes longer than a moment and has no run yet is `unknown`."""
        tree, asked = _find_tree(request, tree_id), request.query_params
        revision = find_compared_revision(tree, asked.get("revision", ""))
        setting = find_setting(revision, asked.get("top", ""), read_hours(asked.get("hours", "")))
        rows = compare(revision, list(tree.variants.select_related("author")), setting)
        return Response(show_comparison(revision.number, setting, rows))


@extend_schema(tags=["variants"])
class VariantView(APIView):
    """One variant."""

    @extend_schema(responses=VariantOut)
    def get(self, request: Request, variant_id: int) -> Response:
        """Show it."""
        return Response(VariantOut(_find_variant(request, variant_id)).data)


@extend_schema(tags=["variants"])
class VariantChangeView(APIView):
    """Changing a variant."""

    @extend_schema(request=VariantChangeIn, responses=VariantOut)
    def post(self, request: Request, variant_id: int) -> Response:
        """Put this in place of what was seen as `version`; 409 says what somebody else has changed since."""
        variant = _find_variant(request, variant_id)
        require(request.user, "variant.change", variant)
        data = _checked(VariantChangeIn, request)
        return Response(VariantOut(change_variant(variant_id=variant.pk, actor=_person(request), **data)).data)


@extend_schema(tags=["variants"])
class VariantRemoveView(APIView):
    """Removing a variant."""

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request, variant_id: int) -> Response:
        """Remove it; runs that were computed with its overrides stay."""
        remove_variant(variant_id=_find_variant(request, variant_id).pk, actor=_person(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


def _person(request: Request) -> User:
    return cast(User, request.user)  # the API lets in nobody who isn't logged in


def _checked(shape: type[VariantIn], request: Request) -> dict[str, Any]:
    serializer = shape(data=request.data)
    serializer.is_valid(raise_exception=True)
    return dict(serializer.validated_data)


def _find_tree(request: Request, tree_id: int) -> Tree:
    return get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)


def _find_variant(request: Request, variant_id: int) -> Variant:
    return get_object_or_404(Variant.objects.visible_to(request.user).select_related("author", "tree"), pk=variant_id)
