"""A run whose worker is killed is computed by another, on one machine and on several."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from typing import Any

import psutil
import psycopg
import pytest

from tests.builders import wide_tree
from tests.config.processes import ROOT, clean_environment, wait_until
from tests.servers import pick_free_port, running_postgresql

pytestmark = pytest.mark.slow

REQUEST = """
import sys, django; django.setup()
from django.contrib.auth.models import User
from faulttree.engine.request import Request
from faulttree.services.runs import request_run
from faulttree.services.trees import import_tree
boss = User.objects.create_superuser("boss", password="a-long-password")
revision = import_tree(actor=boss, source=sys.stdin.buffer.read(), file_name="wide.xml")
print(request_run(revision_id=revision.pk, actor=boss, request=Request(), nodes=2_000_000, seconds=4.0).pk)
"""
READ = """
import sys, json, django; django.setup()
from faulttree.models import Run
for line in sys.stdin:
    run = Run.objects.get(pk=int(line))
    print(json.dumps([run.state, run.attempt, run.worker, (run.result or {}).get("method")]), flush=True)
"""


@contextmanager
def process(*command: str, environment: dict[str, str], **popen: Any) -> Iterator[subprocess.Popen[str]]:
    """Run a program of ours until the block ends; then it and all it started are killed."""
    running = subprocess.Popen(
        [sys.executable, *command], cwd=ROOT, env=environment, text=True, start_new_session=True, **popen
    )
    try:
        yield running
    finally:
        family = psutil.Process(running.pid).children(recursive=True) if running.poll() is None else []
        for each in [*family, running]:
            with suppress(psutil.NoSuchProcess):
                each.kill()
        running.wait()


def finish_although_its_worker_is_killed(environment: dict[str, str]) -> None:
    """Ask for a run, kill the process that computes it, and see another one finish it."""
    asked = subprocess.run(
        [sys.executable, "-c", REQUEST],
        cwd=ROOT,
        env=environment,
        input=wide_tree(160),
        capture_output=True,
        text=True,
    )
    assert asked.returncode == 0, asked.stderr
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with process("-c", READ, environment=environment, **pipes) as reader:

        def read() -> list[Any]:
            reader.stdin.write(asked.stdout)
            reader.stdin.flush()
            return json.loads(reader.stdout.readline())

        wait_until(lambda: read()[0] == "running", seconds=120)
        first = read()[2]
        os.kill(int(first.split(":")[1]), signal.SIGKILL)
        wait_until(lambda: read()[0] == "done", seconds=90)
        state, attempt, worker, method = read()
    assert (state, attempt, method) == ("done", 2, "bracket")
    assert worker != first


def test_on_one_machine_with_the_embedded_worker(tmp_path):
    environment = clean_environment(
        VAR_DIR=str(tmp_path), SWEEP_SECONDS="2", DJANGO_SETTINGS_MODULE="config.settings.dev"
    )
    migrate(environment)
    port = str(pick_free_port())
    with process("manage.py", "serve", "--port", port, environment=environment, stdout=subprocess.DEVNULL):
        finish_although_its_worker_is_killed(environment)


def test_on_several_with_postgresql_and_redis(tmp_path, redis_url):
    with running_postgresql() as database_url, ExitStack() as stack:
        environment = clean_environment(
            VAR_DIR=str(tmp_path),
            SWEEP_SECONDS="2",
            DJANGO_SETTINGS_MODULE="config.settings.prod",
            SECRET_KEY="s" * 64,
            ALLOWED_HOSTS="depot.example",
            DATABASE_URL=database_url,
            CELERY_BROKER_URL=redis_url,
        )
        migrate(environment)
        quiet = {"environment": environment, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        celery = ("-m", "celery", "--quiet", "-A", "config")
        for name in ("one", "two"):
            stack.enter_context(process(*celery, "worker", "--hostname", name, **quiet))
        stack.enter_context(process(*celery, "beat", "--schedule", str(tmp_path / "beat"), **quiet))
        finish_although_its_worker_is_killed(environment)
        with closing(psycopg.connect(database_url)) as connection:
            assert connection.execute("select count(*) from faulttree_run").fetchone() == (1,)


def migrate(environment: dict[str, str]) -> None:
    """Make the tables."""
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=environment, check=True)
