"""The kind of request that pages get."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.http import HttpRequest


class PersonRequest(HttpRequest):
    """A request of somebody who is logged in: the middleware lets no other through to our pages."""

    user: User
