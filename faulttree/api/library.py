"""The library in the JSON API; the pages call the same services."""

from __future__ import annotations

from typing import Any, cast

from django.contrib.auth.models import User
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from config.kit.addresses import read_text
from config.kit.permissions import require
from faulttree.models import DataSet, SharedItem, SharedValue
from faulttree.reads.shared import find_items
from faulttree.services import library


class ValueIn(serializers.Serializer[Any]):
    """A value: `expression` is a number, the name of a shared parameter or a function, as in plain JSON."""

    expression = serializers.JSONField()
    label = serializers.CharField(max_length=300, required=False, default="", allow_blank=True)  # type: ignore[assignment]
    unit = serializers.CharField(max_length=40, required=False, default="", allow_blank=True)
    source_kind = serializers.ChoiceField(SharedValue.Source.choices)
    source = serializers.CharField(required=False, default="", allow_blank=True)  # type: ignore[assignment]
    note = serializers.CharField(max_length=500, required=False, default="", allow_blank=True)


class SharedItemIn(ValueIn):
    """A new item and its first value."""

    kind = serializers.ChoiceField(SharedItem.Kind.choices)
    name = serializers.CharField(max_length=200)


class SharedChangeIn(ValueIn):
    """Another value of an item whose value was seen in data set `seen`, or in a later one."""

    seen = serializers.IntegerField(min_value=1, max_value=2**31 - 1)


class SharedValueOut(serializers.ModelSerializer[SharedValue]):
    """A value of an item, from its data set on until that of the next."""

    item = serializers.IntegerField(source="item_id")
    kind = serializers.CharField(source="item.kind")
    name = serializers.CharField(source="item.name")
    expression = serializers.JSONField()
    data_set = serializers.IntegerField(source="data_set.number")
    author = serializers.CharField(source="data_set.author.username")

    class Meta:
        model = SharedValue
        fields = (
            *("item", "kind", "name", "label", "unit", "expression", "source_kind", "source", "is_retired"),
            *("data_set", "author"),
        )


class DataSetOut(serializers.ModelSerializer[DataSet]):
    """One state of the library, and who made it."""

    author = serializers.CharField(source="author.username")

    class Meta:
        model = DataSet
        fields = ("number", "note", "author", "created")


@extend_schema(tags=["library"])
class SharedItemsView(APIView):
    """The items of the library, each with the value it has now."""

    @extend_schema(
        parameters=[OpenApiParameter("words", str, description="Words in name or title.")],
        responses=SharedValueOut(many=True),
    )
    def get(self, request: Request) -> Response:
        """List the items."""
        require(request.user, "tree.view")
        rows = find_items(request.user, words=read_text(request.query_params.dict()))
        return Response(SharedValueOut([row.value for row in rows], many=True).data)

    @extend_schema(request=SharedItemIn, responses={201: SharedValueOut})
    def post(self, request: Request) -> Response:
        """Add an item; that makes a data set."""
        require(request.user, "library.change")
        data = _checked(SharedItemIn, request)
        kind, name, note = data.pop("kind"), data.pop("name"), data.pop("note")
        value = library.add_item(actor=_person(request), kind=kind, name=name, sent=library.Sent(**data), note=note)
        return Response(SharedValueOut(value).data, status=status.HTTP_201_CREATED)


@extend_schema(tags=["library"])
class SharedItemView(APIView):
    """One item."""

    @extend_schema(operation_id="library_values", responses=SharedValueOut(many=True))
    def get(self, request: Request, item_id: int) -> Response:
        """Show its values, newest first."""
        values = _find(request, item_id).values.select_related("item", "data_set__author")
        return Response(SharedValueOut(values, many=True).data)


@extend_schema(tags=["library"])
class SharedChangeView(APIView):
    """Another value."""

    @extend_schema(request=SharedChangeIn, responses=DataSetOut)
    def post(self, request: Request, item_id: int) -> Response:
        """Make a data set in which the item has this value; 409 says what somebody else has changed since."""
        item = _find(request, item_id)
        require(request.user, "library.change", item)
        data = _checked(SharedChangeIn, request)
        seen, note = data.pop("seen"), data.pop("note")
        made = library.change_value(
            actor=_person(request), item_id=item.pk, sent=library.Sent(**data), seen=seen, note=note
        )
        return Response(DataSetOut(made).data)


@extend_schema(tags=["library"])
class DataSetsView(ListAPIView[DataSet]):
    """The data sets, newest first."""

    serializer_class = DataSetOut

    def get_queryset(self) -> Any:
        """All of them."""
        require(self.request.user, "tree.view")
        return DataSet.objects.select_related("author")

    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List the data sets."""
        return super().get(request, *args, **kwargs)


def _person(request: Request) -> User:
    return cast(User, request.user)  # the API lets in nobody who isn't logged in


def _checked(shape: type[ValueIn], request: Request) -> dict[str, Any]:
    serializer = shape(data=request.data)
    serializer.is_valid(raise_exception=True)
    return dict(serializer.validated_data)


def _find(request: Request, item_id: int) -> SharedItem:
    return get_object_or_404(SharedItem.objects.visible_to(request.user), pk=item_id)
