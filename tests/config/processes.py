"""Real processes under test: their environment, waiting for them, and who is left."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import psutil

ROOT = Path(__file__).resolve().parents[2]
KEPT = {"PATH", "HOME", "LANG", "NUMBA_CACHE_DIR"}


def clean_environment(**added: str) -> dict[str, str]:
    """Return an environment without our settings, but with what is `added`."""
    return {key: value for key, value in os.environ.items() if key in KEPT} | added


def wait_until(condition: Callable[[], bool], *, seconds: float) -> None:
    """Return as soon as the condition holds; fails when it doesn't within that time."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, f"not within {seconds:g} s"
        time.sleep(0.05)


def alive(processes: list[psutil.Process]) -> list[psutil.Process]:
    """Return those that still run."""
    return [each for each in processes if each.is_running() and each.status() != psutil.STATUS_ZOMBIE]
