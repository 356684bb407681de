"""Shared briefs in the JSON API."""

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

from anomalies.api.activities import find as find_activity
from anomalies.api.doors import PasswordIn, check_shape, open_moves, person_of
from anomalies.api.move_views import Noun, move_view
from anomalies.models import BriefShare
from anomalies.services.brief_shares import LONGEST_DAYS, revoke_share, share_brief
from anomalies.services.sign_off import confirm_password
from anomalies.states import TOKEN
from config.kit.permissions import require


class BriefShareIn(PasswordIn):
    """Whom a copy of the brief is for, for how long it opens, and the password of who makes it."""

    audience = serializers.CharField(max_length=120, help_text="It stands on the copy.")
    days = serializers.IntegerField(min_value=1, max_value=LONGEST_DAYS, help_text="Days until it expires.")


class BriefShareOut(serializers.ModelSerializer[BriefShare]):
    """A shared copy, without its address."""

    made_by = serializers.CharField(source="made_by.username")
    last_opened_at = serializers.DateTimeField(
        source="last_use.at", allow_null=True, default=None, help_text="To the minute."
    )
    has_expired = serializers.BooleanField()
    document_hash = serializers.CharField(help_text="SHA-256 of the copy, as the ledger holds it.")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = BriefShare
        fields = (
            *("id", "activity_id", "audience", "state", "made_by", "made_at", "expires_at", "has_expired"),
            *("revoked_at", "last_opened_at", "document_hash", "version", "moves"),
        )

    def get_moves(self, share: BriefShare) -> list[str]:
        """Return them by name."""
        return open_moves(TOKEN, share, self.context["request"].user)


class NewBriefShareOut(serializers.Serializer[Any]):
    """A copy just made, and its address, which can't be read again."""

    share = BriefShareOut()
    address = serializers.CharField()


def find(request: Request, share_id: int) -> BriefShare:
    """Return the shared copy if the person may see it, else answer 404."""
    return get_object_or_404(_visible(request), pk=share_id)


def _visible(request: Request) -> QuerySet[BriefShare]:
    return BriefShare.objects.visible_to(person_of(request)).select_related("made_by", "last_use")


@extend_schema(tags=["brief-shares"])
class BriefShareListView(ListAPIView[BriefShare]):
    """The shared copies of an activity's brief, the newest first."""

    serializer_class = BriefShareOut

    def get_queryset(self) -> QuerySet[BriefShare]:
        """Return them."""
        activity = find_activity(self.request, self.kwargs["activity_id"])
        require(self.request.user, "readiness_review.view")
        return _visible(self.request).filter(activity=activity)

    @extend_schema(request=BriefShareIn, responses={201: NewBriefShareOut})
    def post(self, request: Request, activity_id: int) -> Response:
        """Make one of the brief as it is now; the answer is the only place where its address ever stands."""
        activity = find_activity(request, activity_id)
        require(request.user, "brief_share.make")
        given = check_shape(BriefShareIn, request)
        proof = confirm_password(actor=person_of(request), password=given.pop("password"))
        share, secret = share_brief(activity_id=activity.pk, actor=person_of(request), proof=proof, **given)
        address = request.build_absolute_uri(reverse("anomalies:shared_brief", args=(secret,)))
        shown = {"share": BriefShareOut(share, context={"request": request}).data, "address": address}
        return Response(shown, status=status.HTTP_201_CREATED, headers={"Cache-Control": "no-store"})


@extend_schema(tags=["brief-shares"])
class BriefShareView(APIView):
    """One shared copy."""

    @extend_schema(responses=BriefShareOut)
    def get(self, request: Request, share_id: int) -> Response:
        """Show it, without its address."""
        return NOUN.show(request, find(request, share_id))


NOUN = Noun("brief-shares", "share_id", find, BriefShareOut)
MOVES = {"revoke": move_view(NOUN, "revoke", revoke_share, "It opens nothing any more.", rule="brief_share.revoke")}
