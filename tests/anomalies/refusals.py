"""A refusal must leave nothing behind."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from anomalies.models import LedgerEntry, LedgerHead, NumberSeries
from anomalies.models.base import record_models
from config.kit.errors import DomainError


def everything() -> dict[str, list[Any]]:
    """All rows of all tables of the app."""
    models = [*record_models(), LedgerEntry, LedgerHead, NumberSeries]
    return {model.__name__: list(model._base_manager.order_by("pk").values_list()) for model in models}


@contextmanager
def refused(error: type[DomainError], *, code: str = "", match: str | None = None) -> Iterator[Any]:
    """The block raises the error, with this code if one is given, and no row of any table differs afterwards."""
    before = everything()
    with pytest.raises(error, match=match) as caught:
        yield caught
    assert everything() == before
    if code:
        assert caught.value.code == code
