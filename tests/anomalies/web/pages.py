"""What tests of pages need: a browser of somebody, and the headers of htmx."""

from __future__ import annotations

from typing import Any

from django.test import Client

HTMX = {"HX-Request": "true"}


def log_in(user: Any) -> Client:
    """A browser of somebody who is logged in."""
    client = Client()
    client.force_login(user)
    return client
