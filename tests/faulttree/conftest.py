"""Fixtures of the app's tests."""

from __future__ import annotations

import pytest


@pytest.fixture
def sent(monkeypatch):
    """Run ids whose message went to the queue, instead of sending it."""
    ids: list[int] = []
    monkeypatch.setattr("faulttree.queue._send", ids.append)
    return ids


@pytest.fixture
def unrecorded(monkeypatch):
    """Nothing goes into the ledger: for tests with real transactions, whose tables are emptied afterwards."""
    monkeypatch.setattr("config.kit.ledger._writers", [lambda *args, **kwargs: None])


@pytest.fixture(autouse=True)
def no_broker(monkeypatch):
    """No test of this folder talks to a broker."""
    monkeypatch.setattr("faulttree.queue._send", lambda run_id: None)
