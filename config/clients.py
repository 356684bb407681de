"""Who is calling: the address of the client, also behind proxies."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def read_client_address(request: HttpRequest) -> str:
    """Return the client's address as the outermost of our own proxies saw it.

    Each proxy appends the address it was called from to X-Forwarded-For, so with n proxies the n-th entry from
    the end is the first that a client can't forge. With none, or fewer entries than proxies, it's the peer's.
    """
    peer = str(request.META.get("REMOTE_ADDR", ""))
    count = settings.PROXY_COUNT
    forwarded = [part.strip() for part in request.headers.get("X-Forwarded-For", "").split(",") if part.strip()]
    return forwarded[-count] if 0 < count <= len(forwarded) else peer
