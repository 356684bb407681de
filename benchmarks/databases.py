"""Runs a benchmark on SQLite and on a PostgreSQL of its own, each in a process of its own; and times pages."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from typing import Any

ROUNDS = 7


def run_on_both(module: str, *options: str) -> None:
    """Run `python -m module --here …` on each database; PostgreSQL is left out, with a word, where there's none."""
    from tests.servers import ServerMissing, running_postgresql

    command = [sys.executable, "-m", module, "--here", *options]
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {"VAR_DIR": folder, "DJANGO_SETTINGS_MODULE": "config.settings.test"}
        print("SQLite", flush=True)
        here = {"DATABASE_URL": f"sqlite:///{folder}/records.sqlite3"}
        subprocess.run(command, env=environment | here, check=True)
        try:
            with running_postgresql() as url:
                print("PostgreSQL", flush=True)
                subprocess.run(command, env=environment | {"DATABASE_URL": url}, check=True)
        except ServerMissing as missing:
            print(f"PostgreSQL is left out: {missing}")


def make_tables() -> None:
    """Make the tables, and keep the connection from one request to the next: queries are counted on it."""
    import django

    django.setup()
    from django.core.management import call_command
    from django.core.signals import request_finished, request_started
    from django.db import close_old_connections

    request_started.disconnect(close_old_connections)  # or the connection is made anew, and forgets its queries
    request_finished.disconnect(close_old_connections)
    call_command("migrate", verbosity=0)


def measure_all(works: Mapping[str, Callable[[], Any]], rounds: int = ROUNDS) -> None:
    """Print queries, median and worst time of each, and the size of what it returns (bytes or an answer)."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    print(f"{'work':40}{'queries':>8}{'median ms':>11}{'worst ms':>10}{'kB':>7}")
    for name, work in works.items():
        made = work()
        with CaptureQueriesContext(connection) as queries:
            work()
        asked = len(queries)  # at once: the next request forgets them
        times = [clock(work) for _ in range(rounds)]
        size = len(getattr(made, "content", made) or b"") / 1000 if made is not None else 0
        worst, median = max(times), statistics.median(times)
        print(f"{name:40}{asked:>8}{median * 1000:>11.1f}{worst * 1000:>10.1f}{size:>7.0f}", flush=True)


def clock(work: Callable[[], Any]) -> float:
    """Return how long the work takes, in seconds."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began
