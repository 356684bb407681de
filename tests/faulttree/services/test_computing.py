"""A computation in a process of its own: its answer, its progress, and every way it can end without one."""

from __future__ import annotations

import os
import signal
import time

import numpy as np
import psutil
import pytest

from faulttree.engine.errors import BadModel, Cancelled, LimitReached, Problem
from faulttree.services.computing import Stopped, compute_apart

MIB = 2**20


def compute(work, *, seconds=30.0, memory_mib=512, must_stop=lambda: False, said=None):
    progress = (lambda step, share: said.append((step, share))) if said is not None else lambda step, share: None
    return compute_apart(work, seconds=seconds, memory_mib=memory_mib, progress=progress, must_stop=must_stop)


@pytest.fixture(autouse=True)
def nobody_is_left():
    yield
    assert [child for child in psutil.Process().children() if child.status() == psutil.STATUS_ZOMBIE] == []


def test_the_answer_comes_from_another_process():
    answer = compute(lambda progress: {"pid": os.getpid(), "count": 2**70})
    assert answer["pid"] != os.getpid()
    assert answer["count"] == 2**70


def test_a_large_answer_fits_through():
    assert len(compute(lambda progress: bytes(4_000_000))) == 4_000_000


def test_progress_is_heard():
    said = []

    def work(progress):
        for share in (0.1, 0.5):
            progress("Counting", share)
            time.sleep(0.3)

    compute(work, said=said)
    assert said == [("Counting", 0.1), ("Counting", 0.5)]


def test_memory_is_limited_and_the_worker_lives_on():
    def eat(progress):
        return [np.ones(16 * MIB // 8) for _ in range(1000)]

    with pytest.raises(Stopped) as stopped:
        compute(eat, memory_mib=100)
    assert stopped.value.code == "memory"
    assert "Lower its budget" in stopped.value.message
    assert compute(lambda progress: float(np.ones(32 * MIB // 8).sum()), memory_mib=100) == 32 * MIB // 8


def test_a_process_that_dies_is_explained():
    with pytest.raises(Stopped) as stopped:
        compute(lambda progress: os.kill(os.getpid(), signal.SIGKILL))
    assert stopped.value.code == "killed"
    assert "SIGKILL" in stopped.value.message
    with pytest.raises(Stopped) as stopped:
        compute(lambda progress: os._exit(7))
    assert "exit code 7" in stopped.value.message


def test_refusals_keep_their_problems():
    def refuse(progress):
        raise BadModel(Problem("No.", "Mend it.", "gate G1", line=3))

    with pytest.raises(Stopped) as stopped:
        compute(refuse)
    assert stopped.value.problems == (Problem("No.", "Mend it.", "gate G1", line=3),)

    def reach(progress):
        raise LimitReached("nodes", "Too many.")

    with pytest.raises(Stopped) as stopped:
        compute(reach)
    assert (stopped.value.code, stopped.value.message) == ("limit_reached", "Too many.")


def test_time_is_limited_and_a_cancel_kills_within_a_second():
    with pytest.raises(Stopped) as stopped:
        compute(lambda progress: time.sleep(60), seconds=0.2)
    assert stopped.value.code == "time_limit"
    started, asked = time.monotonic(), []

    def must_stop():
        asked.append(1)
        return len(asked) > 3

    with pytest.raises(Cancelled):
        compute(lambda progress: time.sleep(60), must_stop=must_stop)
    assert time.monotonic() - started < 5.0  # of the 60 s it would have taken


def test_the_process_dies_with_its_worker(tmp_path):
    told = tmp_path / "pid"

    def tell(progress):
        told.write_text(str(os.getpid()))
        time.sleep(60)

    worker = os.fork()
    if worker == 0:
        compute(tell)
        os._exit(0)
    while not told.exists() or not told.read_text():
        time.sleep(0.02)
    computing = psutil.Process(int(told.read_text()))
    os.kill(worker, signal.SIGKILL)
    os.waitpid(worker, 0)
    gone, _ = psutil.wait_procs([computing], timeout=10)
    assert gone or computing.status() == psutil.STATUS_ZOMBIE
