"""Children that are watched."""

from __future__ import annotations

import os
import signal
import sys

import pytest

from config import processes
from config.processes import Child, run_until_stopped
from tests.config.processes import wait_until


def python(script: str, **options: object) -> Child:
    """A child that runs a script."""
    return Child("script", [sys.executable, "-c", script], **options)


def is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_when_an_essential_child_ends_all_end_with_its_code():
    said = []
    other = python("import time; time.sleep(60)")
    code = run_until_stopped([other, python("raise SystemExit(7)", essential=True)], report=said.append)
    assert code == 7
    assert said == ["The script ended by itself (exit code 7)."]
    assert not is_alive(other.process.pid)


def test_a_stop_signal_ends_all_and_is_no_failure():
    child = python("import time; time.sleep(60)", essential=True)
    ready = []
    code = run_until_stopped(
        [child],
        report=pytest.fail,
        when_ready=lambda: (ready.append(1), os.kill(os.getpid(), signal.SIGTERM)),
    )
    assert (code, ready) == (0, [1])
    assert not is_alive(child.process.pid)
    assert signal.getsignal(signal.SIGTERM) == signal.SIG_DFL


def test_a_child_that_will_not_stop_is_killed_with_what_it_started(tmp_path):
    noted = tmp_path / "grandchild"
    stubborn = python(
        "import pathlib, signal, subprocess, sys, time\n"
        "signal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
        "inner = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(60)'])\n"
        f"pathlib.Path({str(noted)!r}).write_text(str(inner.pid))\n"
        "time.sleep(60)\n"
    )
    run_until_stopped(
        [stubborn],
        report=pytest.fail,
        ready=lambda: noted.exists() and noted.read_text() != "",
        when_ready=lambda: os.kill(os.getpid(), signal.SIGINT),
        patience=0.5,
    )
    assert not is_alive(stubborn.process.pid)
    wait_until(lambda: not is_running(int(noted.read_text())), seconds=5)


def is_running(pid: int) -> bool:
    """Tell whether the process runs; one that ended and waits to be reaped doesn't."""
    try:
        with open(f"/proc/{pid}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_another_child_that_ends_is_started_again_but_not_at_once(monkeypatch):
    clock = [100.0]
    monkeypatch.setattr(processes.time, "monotonic", lambda: clock[0])
    said = []
    child = python("pass")
    child.start()
    child.process.wait()
    first = child.process.pid
    processes.restart(child, said.append)
    assert child.process.pid == first
    clock[0] += 6.0
    processes.restart(child, said.append)
    assert child.process.pid != first
    assert said == ["The script ended by itself (exit code 0); it is started again."]
    child.process.wait()
