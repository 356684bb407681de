"""`manage.py serve` with real processes: it answers, it mends its worker, it leaves nothing behind."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass

import psutil
import pytest

from tests.config.processes import ROOT, alive, clean_environment, wait_until
from tests.servers import accepts, pick_free_port


@dataclass
class Served:
    """A running `manage.py serve`."""

    process: subprocess.Popen[str]
    port: int

    def family(self) -> list[psutil.Process]:
        """All processes it started, and theirs."""
        return psutil.Process(self.process.pid).children(recursive=True)

    def worker(self) -> psutil.Process | None:
        """The job worker itself."""
        mine = alive(psutil.Process(self.process.pid).children())
        return next((each for each in mine if "celery" in " ".join(each.cmdline())), None)

    def has_pool(self) -> bool:
        """Tell whether the worker has its own child and its clock."""
        worker = self.worker()
        return worker is not None and len(worker.children()) == 2


@pytest.fixture
def served(tmp_path) -> Iterator[Served]:
    environment = clean_environment(VAR_DIR=str(tmp_path))
    for command in (["migrate", "-v0"], ["collectstatic", "--noinput", "-v0"]):
        subprocess.run([sys.executable, "manage.py", *command], cwd=ROOT, env=environment, check=True)
    port = pick_free_port()
    process = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    server = Served(process, port)
    try:
        wait_until(lambda: accepts(port), seconds=20)
        wait_until(server.has_pool, seconds=120)  # a first start compiles the kernels
        yield server
    finally:
        family = server.family() if process.poll() is None else []
        for each in [process, *alive(family)]:
            each.kill()
        process.communicate()


@pytest.mark.slow
def test_it_answers_and_ctrl_c_leaves_nothing_running(served):
    with urllib.request.urlopen(f"http://127.0.0.1:{served.port}/login/") as answer:
        assert answer.status == 200
        assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
    stop_and_see_all_gone(served, signal.SIGINT)


@pytest.mark.slow
def test_a_worker_that_dies_is_started_again(served):
    first = served.worker()
    first.kill()
    wait_until(lambda: (worker := served.worker()) is not None and worker.pid != first.pid, seconds=15)
    wait_until(served.has_pool, seconds=60)
    stop_and_see_all_gone(served, signal.SIGTERM)


@pytest.mark.slow
def test_killed_it_takes_everything_with_it(served):
    family = served.family()
    served.process.kill()
    wait_until(lambda: alive(family) == [], seconds=15)


def stop_and_see_all_gone(served: Served, sent: signal.Signals) -> None:
    """Send the signal; all must end in order and soon."""
    family = served.family()
    assert len(family) >= 5  # web server and its worker; job worker, its child and its clock
    served.process.send_signal(sent)
    output, _ = served.process.communicate(timeout=20)
    assert served.process.returncode == 0, output
    assert f"http://127.0.0.1:{served.port}/" in output
    assert alive(family) == []


def test_a_port_in_use_is_said_in_plain_words(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "manage.py", "serve", "--port", str(port)],
            cwd=ROOT,
            env=clean_environment(VAR_DIR=str(tmp_path)),
            capture_output=True,
            text=True,
        )
    assert done.returncode == 1
    assert f"Port {port} of 127.0.0.1 is in use" in done.stderr
    assert "Traceback" not in done.stderr
