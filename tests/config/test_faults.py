"""What fails around a run, with real servers and workers: nothing is stuck or computed twice, and people are told."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, build_opener

import psutil
import psycopg
import pytest

from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.quantify import quantify
from faulttree.engine.report import to_json
from faulttree.engine.request import Request
from tests.builders import wide_tree
from tests.config.processes import ROOT, clean_environment, wait_until
from tests.config.test_lost_workers import migrate, process
from tests.faulttree.people import PUMPS
from tests.servers import accepts, pick_free_port, running_postgresql, running_redis

pytestmark = pytest.mark.slow

LOGNORMAL = "<lognormal-deviate>" + "".join(f'<float value="{n}"/>' for n in (0.1, 3, 0.95)) + "</lognormal-deviate>"
UNCERTAIN = PUMPS.replace('<float value="0.1"/>', LOGNORMAL)

ASK = """
import sys, json, django; django.setup()
from django.contrib.auth.models import User
from django.db import connection
from faulttree.engine.request import Request
from faulttree.models import Run, TreeRevision
from faulttree.services.runs import request_run
from faulttree.services.trees import import_tree
boss, is_new = User.objects.get_or_create(username="boss", is_superuser=True)
if is_new:
    boss.set_password("a-long-password")
    boss.save()
for line in sys.stdin:
    asked = json.loads(line)
    if "source" in asked:
        source = asked["source"].encode()
        revision = TreeRevision.objects.filter(tree__name=asked["name"]).first() or import_tree(
            actor=boss, source=source, file_name="t.xml", name=asked["name"])
        request = Request(samples=asked.get("samples", 0))
        run = request_run(revision_id=revision.pk, actor=boss, request=request, seconds=asked["seconds"])
        run.refresh_from_db()
    else:
        try:
            run = Run.objects.get(pk=asked["run"])
        except Exception as error:
            connection.close()
            print(json.dumps({"state": "unknown", "error": type(error).__name__}), flush=True)
            continue
    method = (run.result or {}).get("method")
    uncertainty = (run.result or {}).get("uncertainty")
    parts = [[part.state, part.worker] for part in run.parts.all()]
    print(json.dumps({"parts": parts, "uncertainty": uncertainty, "pk": run.pk,
                      "state": run.state, "attempt": run.attempt, "problem": run.sent_problem,
                      "error": run.error, "method": method, "worker": run.worker}), flush=True)
"""


class Desk:
    """Asks for runs and looks at them, as the pages do."""

    def __init__(self, running: subprocess.Popen[str]) -> None:
        self._running = running

    def _say(self, **asked: Any) -> dict[str, Any]:
        self._running.stdin.write(json.dumps(asked) + "\n")
        self._running.stdin.flush()
        return json.loads(self._running.stdout.readline())

    def ask(self, source: str, name: str, seconds: float = 60.0, samples: int = 0) -> int:
        """Return the number of a run that was asked for."""
        return self._say(source=source, name=name, seconds=seconds, samples=samples)["pk"]

    def look(self, run: int) -> dict[str, Any]:
        """Return what the row says."""
        return self._say(run=run)

    def wait(self, run: int, *states: str, seconds: float = 90.0) -> dict[str, Any]:
        """Return what the row says once it is in one of the states."""
        wait_until(lambda: self.look(run)["state"] in states, seconds=seconds)
        return self.look(run)


@contextmanager
def desk(environment: dict[str, str]) -> Iterator[Desk]:
    """The tables are there, and somebody to ask."""
    migrate(environment)
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with process("-c", ASK, environment=environment, **pipes) as running:
        yield Desk(running)


def on_one_machine(folder: Any, **settings: str) -> dict[str, str]:
    """Return the environment of the embedded worker and database."""
    return clean_environment(
        VAR_DIR=str(folder), SWEEP_SECONDS="1", DJANGO_SETTINGS_MODULE="config.settings.dev", **settings
    )


@contextmanager
def serving(environment: dict[str, str]) -> Iterator[str]:
    """Serve with the embedded worker; gives the address."""
    port = pick_free_port()
    with process("manage.py", "serve", "--port", str(port), environment=environment, stdout=subprocess.DEVNULL):
        wait_until(lambda: accepts(port), seconds=60)
        yield f"http://127.0.0.1:{port}"


def eat_memory_beside_another(at: Desk) -> None:
    """Ask for a run that eats more than it may and for a modest one, and see how both end."""
    greedy = at.ask(wide_tree(220), "greedy")
    modest = at.ask(PUMPS, "modest")
    stopped = at.wait(greedy, "failed", "done")
    assert stopped["error"]["code"] == "memory"
    assert "limit of memory" in stopped["error"]["message"]
    assert at.wait(modest, "done")["method"] == "exact"


SMALL = {"RUN_PROCESS_MIB": "60", "RUN_MEMORY_MIB": "4000"}


def test_a_run_that_eats_memory_is_stopped_with_a_sentence_and_the_others_go_on(tmp_path):
    environment = on_one_machine(tmp_path, **SMALL)
    with desk(environment) as at, serving(environment):
        eat_memory_beside_another(at)


def test_a_worker_killed_with_its_computation_is_replaced_and_the_run_says_restarted(tmp_path):
    environment = on_one_machine(tmp_path)
    with desk(environment) as at, serving(environment):
        run = at.ask(wide_tree(160), "wide", seconds=4.0)
        first = at.wait(run, "running")["worker"]
        worker = psutil.Process(int(first.split(":")[1]))
        wait_until(worker.children, seconds=30)
        computing = worker.children()[0]
        worker.kill()
        psutil.wait_procs([computing], timeout=10)
        assert not computing.is_running() or computing.status() == psutil.STATUS_ZOMBIE
        done = at.wait(run, "done")
        assert (done["attempt"], done["method"]) == (2, "bracket")


def test_a_killed_computation_alone_fails_its_run_with_a_sentence(tmp_path):
    environment = on_one_machine(tmp_path)
    with desk(environment) as at, serving(environment):
        run = at.ask(wide_tree(160), "wide", seconds=30.0)
        worker = psutil.Process(int(at.wait(run, "running")["worker"].split(":")[1]))
        wait_until(worker.children, seconds=30)
        worker.children()[0].kill()
        failed = at.wait(run, "failed")
        assert failed["error"]["code"] == "killed"
        assert "SIGKILL" in failed["error"]["message"]


@contextmanager
def restartable(find: Any) -> Iterator[Any]:
    """Give a function that stops a server and one that starts it again as it was."""
    started: list[subprocess.Popen[bytes]] = []
    server: psutil.Process = find()
    command, folder, user = server.cmdline(), server.cwd(), server.uids().real
    group = server.gids().real

    def stop() -> None:
        now = psutil.Process(started[-1].pid) if started else server
        now.send_signal(signal.SIGINT)
        if started:
            started[-1].wait(20)
        else:
            psutil.wait_procs([now], timeout=20)

    def start() -> None:
        who = {"user": user, "group": group, "extra_groups": []} if os.geteuid() == 0 else {}
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "stdin": subprocess.DEVNULL}
        started.append(subprocess.Popen(command, cwd=folder, **quiet, **who))

    try:
        yield stop, start
    finally:
        for each in started:
            if each.poll() is None:
                each.send_signal(signal.SIGINT)
                each.wait(20)


def listener(port: int) -> psutil.Process:
    """Return the process that listens on a port."""
    found = [c.pid for c in psutil.net_connections("tcp") if c.status == "LISTEN" and c.laddr.port == port]
    return psutil.Process(found[0])


def scaled_out(folder: Any, database_url: str, broker_url: str) -> dict[str, str]:
    """Return the environment of several machines."""
    return clean_environment(
        VAR_DIR=str(folder),
        SWEEP_SECONDS="1",
        DJANGO_SETTINGS_MODULE="config.settings.prod",
        SECRET_KEY="s" * 64,
        ALLOWED_HOSTS="depot.example",
        DATABASE_URL=database_url,
        CELERY_BROKER_URL=broker_url,
    )


def start_workers(stack: ExitStack, environment: dict[str, str], folder: Any, *names: str) -> None:
    """Start workers by name, and the clock."""
    quiet = {"environment": environment, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    celery = ("-m", "celery", "--quiet", "-A", "config")
    for name in names:
        stack.enter_context(process(*celery, "worker", "--hostname", name, **quiet))
    stack.enter_context(process(*celery, "beat", "--schedule", str(folder / "beat"), **quiet))


def port_of(url: str) -> int:
    """Return the port of an address."""
    return int(url.rsplit(":", 1)[1].split("/")[0])


def test_a_run_that_eats_memory_is_stopped_on_several_machines_too(tmp_path, redis_url):
    with running_postgresql() as database_url, ExitStack() as stack:
        environment = scaled_out(tmp_path, database_url, redis_url) | SMALL
        at = stack.enter_context(desk(environment))
        start_workers(stack, environment, tmp_path, "one")
        eat_memory_beside_another(at)


def test_a_broker_that_is_away_is_named_and_the_run_goes_on_when_it_is_back(tmp_path):
    with running_postgresql() as database_url, ExitStack() as stack:
        broker = stack.enter_context(ExitStack())
        broker_url = broker.enter_context(running_redis())
        environment = scaled_out(tmp_path, database_url, broker_url)
        at = stack.enter_context(desk(environment))
        start_workers(stack, environment, tmp_path, "one")
        at.wait(at.ask(PUMPS, "before"), "done")
        broker.close()
        run = at.ask(PUMPS.replace('"0.01"', '"0.02"'), "during")
        row = at.look(run)
        assert row["state"] == "queued"
        assert "can't be reached" in row["problem"]
        with running_redis(port_of(broker_url)):
            done = at.wait(run, "done", seconds=120)
        assert (done["method"], done["problem"]) == ("exact", "")


def test_a_database_that_is_away_for_ten_seconds_loses_no_run(tmp_path, redis_url):
    with running_postgresql() as database_url, ExitStack() as stack:
        environment = scaled_out(tmp_path, database_url, redis_url)
        at = stack.enter_context(desk(environment))
        port = port_of(database_url)
        stop, start = stack.enter_context(restartable(lambda: listener(port)))
        start_workers(stack, environment, tmp_path, "one")
        run = at.ask(wide_tree(160), "wide", seconds=6.0)
        at.wait(run, "running")
        stop()
        assert at.look(run)["state"] == "unknown"
        time.sleep(10)
        start()
        done = at.wait(run, "done", seconds=120)
        assert done["method"] == "bracket"
        with psycopg.connect(database_url) as connection:
            assert connection.execute("select count(*) from faulttree_run").fetchone() == (1,)


def draw_by_two(at: Desk) -> None:
    """Ask for a large uncertainty run, kill a helper in mid-run, and compare with the digits of one piece."""
    samples = 400_000
    run = at.ask(UNCERTAIN, "uncertain", samples=samples)
    workers: set[str] = set()

    def two_take_part() -> bool:
        workers.update(worker for state, worker in at.look(run)["parts"] if worker and state == "running")
        return len(workers) > 1

    wait_until(two_take_part, seconds=120)
    helper = next(worker for worker in workers if worker != at.look(run)["worker"])
    with suppress(ProcessLookupError):
        os.kill(int(helper.split(":")[1]), signal.SIGKILL)
    done = at.wait(run, "done", seconds=120)
    assert done["parts"] == []
    model, request = read_open_psa(UNCERTAIN.encode()), Request(samples=samples)
    whole = json.loads(json.dumps(to_json(quantify(model, request))["uncertainty"]))
    assert done["uncertainty"] == whole


def test_samples_are_drawn_by_two_processes_to_the_same_digits_though_one_is_killed(tmp_path):
    environment = on_one_machine(tmp_path, WORKER_PROCESSES="2", RUN_PARTS="8")
    with desk(environment) as at, serving(environment):
        draw_by_two(at)


def test_samples_are_drawn_by_several_workers_to_the_same_digits_though_one_is_killed(tmp_path, redis_url):
    with running_postgresql() as database_url, ExitStack() as stack:
        environment = scaled_out(tmp_path, database_url, redis_url) | {"RUN_PARTS": "8"}
        at = stack.enter_context(desk(environment))
        start_workers(stack, environment, tmp_path, "one", "two")
        draw_by_two(at)


@contextmanager
def small_disk(folder: Any, mib: int) -> Iterator[None]:
    """Mount a small file system in memory there; skips where that isn't allowed."""
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={mib}m", "siftwood-test", str(folder)], capture_output=True, text=True
    )
    if mounted.returncode:
        pytest.skip(f"no file system can be mounted here: {mounted.stderr.strip()}")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=False)


def log_in(address: str) -> int:
    """Return the status of an attempt to log in, which writes a session."""
    jar = CookieJar()
    browser = build_opener(HTTPCookieProcessor(jar))
    browser.open(f"{address}/login/").read()
    token = next(cookie.value for cookie in jar if cookie.name == "csrftoken")
    form = {"username": "boss", "password": "a-long-password", "csrfmiddlewaretoken": token}
    try:
        return browser.open(f"{address}/login/", urlencode(form).encode()).status
    except HTTPError as error:
        is_told = error.code != 503 or "no room left" in error.read().decode()
        return error.code if is_told else 0


def fill_up(filler: Path) -> None:
    """Write until there is no room."""
    with filler.open("wb", buffering=0) as file, suppress(OSError):
        while True:
            file.write(bytes(2**12))


def test_a_full_disk_is_said_and_the_run_ends_when_there_is_room_again(tmp_path):
    folder = tmp_path / "small"
    folder.mkdir()
    with small_disk(folder, 48):
        environment = on_one_machine(folder, NUMBA_CACHE_DIR=str(tmp_path / "kernels"))
        subprocess.run(
            [sys.executable, "manage.py", "collectstatic", "--noinput", "-v0"], cwd=ROOT, env=environment, check=True
        )
        with desk(environment) as at, serving(environment) as address:
            at.wait(at.ask(PUMPS, "before"), "done")
            assert log_in(address) == 200
            run = at.ask(wide_tree(160), "wide", seconds=5.0)
            at.wait(run, "running")
            filler = folder / "filler"
            fill_up(filler)
            wait_until(lambda: log_in(address) == 503, seconds=20)
            time.sleep(7)  # by now the answer has been tried to be stored
            filler.unlink()
            assert at.wait(run, "done", seconds=150)["method"] == "bracket"
            assert log_in(address) == 200
