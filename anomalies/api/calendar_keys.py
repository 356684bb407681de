"""The addresses of a person's calendar in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.doors import PasswordIn, check_shape, open_moves, person_of
from anomalies.api.move_views import Noun, move_view
from anomalies.models import CalendarKey
from anomalies.services.calendar_keys import make_key, revoke_key
from anomalies.services.sign_off import confirm_password
from anomalies.states import TOKEN
from config.kit.permissions import require


class CalendarKeyIn(PasswordIn):
    """Where a calendar is read, what it holds, and the password of who makes the address."""

    name = serializers.CharField(max_length=80, help_text="Where it's read.")
    reach = serializers.ChoiceField(CalendarKey.Reach.choices, help_text="What is yours, or all that you may see.")


class CalendarKeyOut(serializers.ModelSerializer[CalendarKey]):
    """A key of your calendar, without its address."""

    last_read_at = serializers.DateTimeField(
        source="last_use.at", allow_null=True, default=None, help_text="To the minute."
    )
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = CalendarKey
        fields = ("id", "name", "reach", "state", "made_at", "revoked_at", "last_read_at", "version", "moves")

    def get_moves(self, key: CalendarKey) -> list[str]:
        """Return them by name."""
        return open_moves(TOKEN, key, self.context["request"].user)


class NewCalendarKeyOut(serializers.Serializer[Any]):
    """A key just made, and the address of the calendar, which can't be read again."""

    key = CalendarKeyOut()
    address = serializers.CharField()


def find(request: Request, key_id: int) -> CalendarKey:
    """Return the key if it's the person's own, else answer 404."""
    return get_object_or_404(_visible(request), pk=key_id)


def _visible(request: Request) -> QuerySet[CalendarKey]:
    return CalendarKey.objects.visible_to(person_of(request)).select_related("last_use")


@extend_schema(tags=["calendar-keys"])
class CalendarKeyListView(ListAPIView[CalendarKey]):
    """The addresses of your calendar, the newest first."""

    serializer_class = CalendarKeyOut

    def get_queryset(self) -> QuerySet[CalendarKey]:
        """Return them."""
        return _visible(self.request)

    @extend_schema(request=CalendarKeyIn, responses={201: NewCalendarKeyOut})
    def post(self, request: Request) -> Response:
        """Make one; the answer is the only place where the address ever stands."""
        require(request.user, "calendar_key.make")
        given = check_shape(CalendarKeyIn, request)
        proof = confirm_password(actor=person_of(request), password=given.pop("password"))
        key, secret = make_key(actor=person_of(request), proof=proof, **given)
        address = request.build_absolute_uri(reverse("anomalies:calendar_feed", args=(secret,)))
        shown = {"key": CalendarKeyOut(key, context={"request": request}).data, "address": address}
        return Response(shown, status=status.HTTP_201_CREATED, headers={"Cache-Control": "no-store"})


@extend_schema(tags=["calendar-keys"])
class CalendarKeyView(APIView):
    """One key."""

    @extend_schema(responses=CalendarKeyOut)
    def get(self, request: Request, key_id: int) -> Response:
        """Show it, without its address."""
        return NOUN.show(request, find(request, key_id))


NOUN = Noun("calendar-keys", "key_id", find, CalendarKeyOut)
MOVES = {"revoke": move_view(NOUN, "revoke", revoke_key, "It opens nothing any more.", rule="calendar_key.revoke")}
