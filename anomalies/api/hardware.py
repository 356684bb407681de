"""Hardware in the JSON API: types, items, and where items were installed when."""

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

from anomalies.api import hardware_shapes as shapes
from anomalies.api.doors import ReasonIn, check_shape, person_of
from anomalies.api.move_views import Noun, edit_view, move_view
from anomalies.models import HardwareItem, HardwareType, Installation
from anomalies.reads.hardware import HardwareFilter, find_items
from anomalies.services import hardware as services
from config.kit.permissions import require


def find(request: Request, item_id: int) -> HardwareItem:
    """Return the item if the person may see it, else answer 404."""
    return get_object_or_404(HardwareItem.objects.visible_to(person_of(request)).select_related("type"), pk=item_id)


def find_type(request: Request, type_id: int) -> HardwareType:
    """Return the type if the person may see it, else answer 404."""
    return get_object_or_404(HardwareType.objects.visible_to(person_of(request)), pk=type_id)


ITEM = Noun("hardware", "item_id", find, shapes.HardwareItemOut)
TYPE = Noun("hardware-types", "type_id", find_type, shapes.HardwareTypeOut)


class HardwareListView(ListAPIView[HardwareItem]):
    """Items, by name of the type and serial number."""

    serializer_class = shapes.HardwareItemOut

    def get_queryset(self) -> QuerySet[HardwareItem]:
        """Return what the filters let through."""
        require(self.request.user, "hardware.view")
        filters = shapes.HardwareFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        given = dict(filters.validated_data)
        exact = {name: given.pop(name) for name in ("serial_number", "installed_in") if name in given}
        wanted = HardwareFilter.read({name: str(value) for name, value in given.items()})
        return find_items(person_of(self.request), wanted).filter(**exact)

    @extend_schema(tags=["hardware"], parameters=[shapes.HardwareFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["hardware"], request=shapes.HardwareItemIn, responses={201: shapes.HardwareItemOut})
    def post(self, request: Request) -> Response:
        """Add one; it's in service."""
        require(request.user, "hardware.add")
        made = services.add_hardware_item(actor=person_of(request), **check_shape(shapes.HardwareItemIn, request))
        return ITEM.show(request, made, status.HTTP_201_CREATED)


class HardwareTypeListView(ListAPIView[HardwareType]):
    """Types, by part number."""

    serializer_class = shapes.HardwareTypeOut

    def get_queryset(self) -> QuerySet[HardwareType]:
        """Return them."""
        require(self.request.user, "hardware.view")
        return HardwareType.objects.visible_to(person_of(self.request)).order_by("part_number")

    @extend_schema(tags=["hardware-types"])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)

    @extend_schema(tags=["hardware-types"], request=shapes.HardwareTypeIn, responses={201: shapes.HardwareTypeOut})
    def post(self, request: Request) -> Response:
        """Add one."""
        require(request.user, "hardware_type.add")
        made = services.add_hardware_type(actor=person_of(request), **check_shape(shapes.HardwareTypeIn, request))
        return TYPE.show(request, made, status.HTTP_201_CREATED)


@extend_schema(tags=["hardware-types"], responses=shapes.HardwareTypeOut)
class HardwareTypeView(APIView):
    """One type."""

    def get(self, request: Request, type_id: int) -> Response:
        """Show it."""
        return TYPE.show(request, find_type(request, type_id))


class InstallationListView(ListAPIView[Installation]):
    """Installations, the latest first."""

    serializer_class = shapes.InstallationOut

    def get_queryset(self) -> QuerySet[Installation]:
        """Return what the filters let through."""
        require(self.request.user, "hardware.view")
        filters = shapes.InstallationFilters(data=self.request.query_params)
        filters.is_valid(raise_exception=True)
        rows = Installation.objects.visible_to(person_of(self.request))
        return rows.filter(**filters.validated_data).order_by("-installed_at", "-pk")

    @extend_schema(tags=["installations"], parameters=[shapes.InstallationFilters])
    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List them."""
        return super().get(request, *args, **kwargs)


show = edit_view(ITEM, services.edit_hardware_item, "One item.", shape=shapes.HardwareItemChanges, rule="hardware.edit")


def _move(name: str, service: Any, says: str, shape: Any = ReasonIn) -> Any:
    return move_view(ITEM, name, service, says, shape=shape, rule=f"hardware.{name}")


S = services
MOVES = {
    "install": _move("install", S.install_hardware, "Put it into another item.", shapes.InstallIn),
    "remove": _move("remove", S.remove_hardware, "Take it out of the item that it's part of.", shapes.RemoveIn),
    "quarantine": _move("quarantine", S.quarantine_hardware, "It may not be installed until it's released."),
    "release": _move("release", S.release_hardware, "It may be used again."),
    "retire": _move("retire", S.retire_hardware, "It's out of use for good."),
}
