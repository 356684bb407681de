"""Computes in a process of its own, forked from the worker: it can be killed, and what it eats is limited.

The child never touches the database: what it needs is there before the fork, and what it finds goes through a pipe.
It dies with the worker, so a run whose worker was killed is never computed by an orphan.
"""

from __future__ import annotations

import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from multiprocessing.connection import Connection, Pipe
from pathlib import Path
from typing import Any, NoReturn, TypeAlias

from config.kit.death_link import make_death_link
from faulttree.engine.budget import Progress
from faulttree.engine.errors import BadModel, Cancelled, EngineError, Problem
from faulttree.engine.exchange.plain_json import read_json
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request, TimeGrid

Work: TypeAlias = Callable[[Progress], Any]

TIME_LIMIT = "The run was stopped at the time limit of the worker. Lower its budget of seconds or nodes."
SAY_SECONDS = 0.2
LOOK_SECONDS = 0.1
WARM = b'{"gates": {"g": {"formula": {"or": ["a", {"and": ["b", "c"]}]}}}, "basic_events": {"a": {"probability": 0.1}, "b": {"probability": {"exponential": [0.1, {"mission-time": []}]}}, "c": {"probability": {"uniform-deviate": [0.1, 0.2]}}}}'  # noqa: E501


@dataclass(frozen=True)
class Stopped(Exception):
    """The computation gave no answer; `problems` where the model or the request is at fault."""

    code: str
    message: str
    problems: tuple[Problem, ...] = ()


def compute_apart(
    work: Work, *, seconds: float, memory_mib: int, progress: Progress, must_stop: Callable[[], bool]
) -> Any:
    """Return what `work` returns, computed in a child process.

    work : takes a function to report progress with; what it returns must be picklable
    seconds : wall-clock time after which the child is killed
    memory_mib : MiB that the child may hold more than at its beginning (Linux; elsewhere there is no limit)
    progress, must_stop : called here, in the worker, several times a second
    Raises Cancelled when `must_stop` says so, Stopped for every other end without an answer.
    """
    warm_up()
    reader, writer = Pipe(duplex=False)
    parent = os.getpid()
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        reader.close()
        _run_child(work, writer, parent, memory_mib)
    writer.close()
    try:
        return _await(reader, child, time.monotonic() + seconds, progress, must_stop)
    finally:
        reader.close()
        _end(child)


def _await(reader: Connection, child: int, deadline: float, progress: Progress, must_stop: Callable[[], bool]) -> Any:
    while True:
        if must_stop():
            raise Cancelled("The run was cancelled.")
        if time.monotonic() > deadline:
            raise Stopped("time_limit", TIME_LIMIT)
        try:
            message = reader.recv() if reader.poll(LOOK_SECONDS) else None
        except (EOFError, OSError):
            raise _explain_end(child) from None
        if message is None:
            continue
        kind, *rest = message
        if kind == "step":
            progress(*rest)
        elif kind == "done":
            return rest[0]
        else:
            raise Stopped(*rest)


def _explain_end(child: int) -> Stopped:
    """Say why a child ended without a word."""
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        name = signal.Signals(os.WTERMSIG(status)).name
        message = f"The process that computed the run was ended by the system ({name}), perhaps for want of memory."
        return Stopped("killed", f"{message} Lower its budget of nodes, or run it again.")
    return Stopped(
        "crashed", f"The process that computed the run ended by itself (exit code {os.WEXITSTATUS(status)})."
    )


def _end(child: int) -> None:
    """See to it that the child is gone."""
    try:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    except (ProcessLookupError, ChildProcessError):
        return


def _run_child(work: Work, writer: Connection, parent: int, memory_mib: int) -> NoReturn:
    """Compute and send the answer; never returns, so that nothing of the worker's is cleaned up twice."""
    try:
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGQUIT, signal.SIGUSR1, signal.SIGUSR2):
            signal.signal(number, signal.SIG_DFL)
        make_death_link(signal.SIGKILL, parent=parent)()
        _limit_memory(memory_mib)
        writer.send(_describe(work, _Teller(writer)))
    except BaseException:  # noqa: BLE001  nothing may get past this frame of the worker's copy
        os._exit(1)
    os._exit(0)


def _describe(work: Work, teller: _Teller) -> tuple[Any, ...]:
    try:
        return "done", work(teller.say)
    except BadModel as refused:
        return "stopped", refused.code, "The run can't be computed as asked.", refused.problems
    except EngineError as error:
        return "stopped", error.code, str(error)
    except MemoryError:
        pass  # the way out needs memory too: first let go of what the frames held
    except Exception:  # noqa: BLE001  it goes to the log of the worker
        return "stopped", "internal", traceback.format_exc(limit=20)
    message = "The run was stopped at its limit of memory. Lower its budget of nodes, or ask for less at once."
    return "stopped", "memory", message


class _Teller:
    """Sends progress, not more often than somebody looks."""

    def __init__(self, writer: Connection) -> None:
        self._writer = writer
        self._last = float("-inf")

    def say(self, step: str, share: float) -> None:
        """Report progress."""
        now = time.monotonic()
        if now - self._last >= SAY_SECONDS:
            self._last = now
            self._writer.send(("step", step, share))


def _limit_memory(more_mib: int) -> None:
    if not sys.platform.startswith("linux"):
        return
    status = Path("/proc/self/status").read_text()
    held = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmData:"))
    limit = (held + more_mib * 1024) * 1024
    _, hardest = resource.getrlimit(resource.RLIMIT_DATA)
    resource.setrlimit(resource.RLIMIT_DATA, (limit, hardest))


@cache
def warm_up() -> None:
    """Load the kernels once in the worker: every child finds them loaded."""
    quantify(read_json(WARM), Request(mission_time=1.0, samples=4, time_grid=TimeGrid(0.0, 1.0, 1.0)))
