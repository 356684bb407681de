"""Fixtures for all tests. No Django import here: the engine's tests run without it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

from tests.servers import ServerMissing, running_postgresql, running_redis

settings.register_profile("steady", deadline=None)  # a busy machine is no failure
settings.load_profile("steady")

DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what touches the database, so that it can be run on another one: `pytest -m database`."""
    for item in items:
        uses = DATABASE_FIXTURES.intersection(getattr(item, "fixturenames", ()))
        if uses or item.get_closest_marker("django_db"):
            item.add_marker("database")


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Print what tests measured and wrote down by `record_property("measured", …)`, whichever worker ran them."""
    reports = [report for found in terminalreporter.stats.values() for report in found]
    told = [value for report in reports for name, value in getattr(report, "user_properties", ()) if name == "measured"]
    for line in dict.fromkeys(told):
        terminalreporter.write_line(f"measured: {line}")


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """DATABASE_URL of a PostgreSQL of our own; skips where it isn't installed."""
    try:
        with running_postgresql() as url:
            yield url
    except ServerMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """URL of a Redis of our own; skips where it isn't installed."""
    try:
        with running_redis() as url:
            yield url
    except ServerMissing as missing:
        pytest.skip(str(missing))
