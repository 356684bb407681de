"""Access tokens for tests, and a program that uses one."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.test import Client

from anomalies.models import AccessToken
from anomalies.services.access_tokens import make_token
from tests.anomalies.procedures import prove


def make(owner: User, **changes: Any) -> tuple[AccessToken, str]:
    """A token of somebody's, with its secret."""
    return make_token(actor=owner, proof=prove(owner), **{"name": "telemetry import", "days": 90} | changes)


def program(secret: str) -> Client:
    """What sends the secret with every request, and has no session; it is held to CSRF checks if anybody is."""
    return Client(enforce_csrf_checks=True, headers={"Authorization": f"Bearer {secret}"})
