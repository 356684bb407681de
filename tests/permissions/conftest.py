"""The world is made once, in a transaction that is never committed; every test then leaves it as it was."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import override_settings
from drf_spectacular.generators import SchemaGenerator

from tests.permissions.world import World, make_world


@pytest.fixture(scope="package")
def world(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[World]:
    """Everybody and everything."""
    folder = tmp_path_factory.mktemp("evidence")
    patch = pytest.MonkeyPatch()
    schema = SchemaGenerator(api_version="1").get_schema(public=True)  # slow to make, and the same for everybody
    patch.setattr(SchemaGenerator, "get_schema", lambda *args, **kwargs: schema)
    patch.setattr("faulttree.queue._send", lambda run_id: None)
    with django_db_blocker.unblock(), override_settings(EVIDENCE_DIR=str(folder)), transaction.atomic():
        logging.disable(logging.WARNING)  # thousands of refusals
        yield make_world()
        logging.disable(logging.NOTSET)
        transaction.set_rollback(True)
    patch.undo()
