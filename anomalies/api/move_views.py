"""Views of moves, made from what differs: which record, which rule, which shape, which service."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.doors import check_shape, person_of
from anomalies.models.base import Record
from anomalies.services.sign_off import confirm_password
from config.kit.permissions import require

Shape = type[serializers.Serializer[Any]]


class NothingIn(serializers.Serializer[Any]):
    """Nothing has to be sent."""


@dataclass(frozen=True, slots=True)
class Noun:
    """A kind of record in the API: how one is found and shown, and what services call its key."""

    tag: str
    argument: str
    find: Callable[..., Record]
    out: Shape

    def show(self, request: Request, record: Record, code: int = status.HTTP_200_OK) -> Response:
        """Return the record as it's shown."""
        return Response(self.out(record, context={"request": request}).data, status=code)


def move_view(
    noun: Noun,
    name: str,
    service: Callable[..., Any],
    says: str,
    *,
    shape: Shape = NothingIn,
    rule: str,
    handing_on: tuple[str, ...] = (),
) -> Any:
    """Return the view of one move: 403 to those who may not, 409 in a state that doesn't allow it.

    It finds the record by what the route gives, asks the rule, checks the shape, calls the service and shows the record
    as it is then. Parts of the route named in `handing_on` go to the service. Where the shape asks for a password, the
    service is given the proof of it.
    """

    @extend_schema(tags=[noun.tag], request=shape, responses=noun.out)
    def post(self: APIView, request: Request, **keys: Any) -> Response:
        handed = {part: keys.pop(part) for part in handing_on}
        record = noun.find(request, **keys)
        require(request.user, rule, record)
        given = check_shape(shape, request) | handed
        if "password" in given:
            given["proof"] = confirm_password(actor=person_of(request), password=given.pop("password"))
        service(**{noun.argument: record.pk}, actor=person_of(request), **given)
        return noun.show(request, noun.find(request, **keys))

    post.__doc__ = says
    title = "".join(part.capitalize() for part in f"{noun.tag} {name}".replace("-", " ").split())
    return type(f"{title}View", (APIView,), {"post": post, "__doc__": says}).as_view()  # type: ignore[attr-defined]


def edit_view(noun: Noun, edit: Callable[..., Any], says: str, *, shape: Shape, rule: str) -> Any:
    """Return the view of one record: GET shows it, PATCH changes the fields sent, unless somebody else was first."""

    @extend_schema(tags=[noun.tag], responses=noun.out)
    def get(self: APIView, request: Request, **keys: Any) -> Response:
        """Show it."""
        return noun.show(request, noun.find(request, **keys))

    @extend_schema(tags=[noun.tag], request=shape, responses=noun.out)
    def patch(self: APIView, request: Request, **keys: Any) -> Response:
        """Change the fields that are sent; 409 with both versions if somebody else was first."""
        record = noun.find(request, **keys)
        require(request.user, rule, record)
        sent = check_shape(shape, request)
        version, reason = sent.pop("version"), sent.pop("reason", None)
        more = {} if reason is None else {"reason": reason}
        edit(**{noun.argument: record.pk}, actor=person_of(request), version=version, changes=sent, **more)
        return noun.show(request, noun.find(request, **keys))

    title = noun.tag.capitalize()
    return type(f"{title}View", (APIView,), {"get": get, "patch": patch, "__doc__": says}).as_view()  # type: ignore[attr-defined]
