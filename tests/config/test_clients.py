"""The client's address, and what follows from it for log-ins that fail."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User

from config.clients import read_client_address


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "", "10.0.0.1"),
        (0, "192.0.2.7", "10.0.0.1"),  # nobody vouches for the header
        (1, "192.0.2.7", "192.0.2.7"),
        (1, "203.0.113.9, 192.0.2.7", "192.0.2.7"),  # the first entry was sent by the client
        (2, "203.0.113.9, 192.0.2.7, 10.0.0.2", "192.0.2.7"),
        (2, "192.0.2.7", "10.0.0.1"),
    ],
)
def test_the_address_is_the_one_our_outermost_proxy_saw(proxies, forwarded, address, rf, settings):
    settings.PROXY_COUNT = proxies
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    assert read_client_address(rf.get("/", headers=headers, REMOTE_ADDR="10.0.0.1")) == address


@pytest.mark.django_db
def test_five_wrong_passwords_lock_the_name_from_that_address_only(client, settings):
    settings.AXES_ENABLED = True
    settings.PROXY_COUNT = 1
    User.objects.create_user("ada", password="a-right-password")

    def log_in(password: str, address: str) -> bool:
        client.logout()
        client.post("/login/", {"username": "ada", "password": password}, headers={"X-Forwarded-For": address})
        return "_auth_user_id" in client.session

    assert log_in("a-right-password", "192.0.2.7")
    for _ in range(5):
        assert not log_in("wrong", "192.0.2.7")
    assert not log_in("a-right-password", "192.0.2.7")
    assert log_in("a-right-password", "192.0.2.8")
