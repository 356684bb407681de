"""A person's access tokens in the JSON API."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.generics import ListAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.doors import check_shape, open_moves, person_of
from anomalies.api.move_views import Noun, move_view
from anomalies.models import AccessToken
from anomalies.services.access_tokens import LONGEST_DAYS, make_token, revoke_token
from anomalies.services.sign_off import confirm_password
from anomalies.states import TOKEN
from config.kit.permissions import require


class TokenIn(serializers.Serializer[Any]):
    """What a token is for, for how long, and the password of who makes it."""

    name = serializers.CharField(max_length=80, help_text="What it's for.")
    days = serializers.IntegerField(min_value=1, max_value=LONGEST_DAYS, help_text="Days until it expires.")
    password = serializers.CharField(max_length=4096, trim_whitespace=False, help_text="Your own, asked for again.")


class TokenOut(serializers.ModelSerializer[AccessToken]):
    """A token, without its secret."""

    last_used_at = serializers.DateTimeField(
        source="last_use.at", allow_null=True, default=None, help_text="To the minute."
    )
    has_expired = serializers.BooleanField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = AccessToken
        fields = (
            *("id", "name", "state", "made_at", "expires_at", "has_expired", "revoked_at", "last_used_at"),
            *("version", "moves"),
        )

    def get_moves(self, token: AccessToken) -> list[str]:
        """Return them by name."""
        return open_moves(TOKEN, token, self.context["request"].user)


class NewTokenOut(serializers.Serializer[Any]):
    """A token just made, and its secret, which can't be read again."""

    token = TokenOut()
    secret = serializers.CharField()


def find(request: Request, token_id: int) -> AccessToken:
    """Return the token if it's the person's own, else answer 404."""
    return get_object_or_404(_visible(request), pk=token_id)


def _visible(request: Request) -> QuerySet[AccessToken]:
    return AccessToken.objects.visible_to(person_of(request)).select_related("last_use")


@extend_schema(tags=["tokens"])
class TokenListView(ListAPIView[AccessToken]):
    """Your own tokens, the newest first."""

    serializer_class = TokenOut

    def get_queryset(self) -> QuerySet[AccessToken]:
        """Return them."""
        return _visible(self.request)

    @extend_schema(request=TokenIn, responses={201: NewTokenOut})
    def post(self, request: Request) -> Response:
        """Make one; the answer is the only place where its secret ever stands."""
        require(request.user, "access_token.make")
        given = check_shape(TokenIn, request)
        proof = confirm_password(actor=person_of(request), password=given.pop("password"))
        token, secret = make_token(actor=person_of(request), proof=proof, **given)
        shown = {"token": TokenOut(token, context={"request": request}).data, "secret": secret}
        return Response(shown, status=status.HTTP_201_CREATED, headers={"Cache-Control": "no-store"})


@extend_schema(tags=["tokens"])
class TokenView(APIView):
    """One token."""

    @extend_schema(responses=TokenOut)
    def get(self, request: Request, token_id: int) -> Response:
        """Show it, without its secret."""
        return Response(TokenOut(find(request, token_id), context={"request": request}).data)


NOUN = Noun("tokens", "token_id", find, TokenOut)
MOVES = {"revoke": move_view(NOUN, "revoke", revoke_token, "It opens nothing any more.", rule="access_token.revoke")}
