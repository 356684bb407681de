"""Who looks at the pages: a client per person."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.faulttree.people import make_engineer, make_stranger, make_viewer


def log_in(user) -> Client:
    """A browser of somebody who is logged in."""
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def engineer(db):
    return make_engineer()


@pytest.fixture
def as_engineer(engineer):
    return log_in(engineer)


@pytest.fixture
def as_viewer(db):
    return log_in(make_viewer())


@pytest.fixture
def as_stranger(db):
    return log_in(make_stranger())
