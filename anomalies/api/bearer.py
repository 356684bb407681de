"""Logging in to the JSON API with an access token, in the header `Authorization: Bearer` (RFC 6750, section 2.1)."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from anomalies.models import AccessToken
from anomalies.services.access_tokens import use_token

SCHEME = "Bearer"
UNKNOWN = "This access token is unknown, expired or revoked, or its owner's account is closed. Make another."
MALFORMED = "Send the token as “Authorization: Bearer”, a space, and the secret, which has no spaces."


class BearerAuthentication(BaseAuthentication):
    """Lets in whoever sends the secret of a token that can be used; a browser's session is left to others."""

    def authenticate(self, request: Request) -> tuple[User, AccessToken] | None:
        """Return the owner and the token; None without the header; raises AuthenticationFailed, a 401."""
        scheme, *rest = get_authorization_header(request).split() or [b""]
        if scheme.lower() != SCHEME.lower().encode():
            return None
        if len(rest) != 1:
            raise AuthenticationFailed(MALFORMED, code="bad_token")
        token = use_token(rest[0].decode("latin-1"))
        if token is None:
            raise AuthenticationFailed(UNKNOWN, code="bad_token")
        return token.owner, token

    def authenticate_header(self, request: Request) -> str:
        """Return what a 401 asks for."""
        return SCHEME


class BearerScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How the OpenAPI schema names it."""

    target_class = BearerAuthentication
    name = "accessToken"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Return the scheme's definition."""
        return {"type": "http", "scheme": "bearer", "description": "A personal access token, made on /tokens/."}
