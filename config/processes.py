"""Child processes that start together, are watched together, and never outlive the one that started them."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import FrameType

from config.kit.death_link import make_death_link as make_death_link

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@dataclass
class Child:
    """One program to keep running.

    command : the program and its arguments
    environment : variables added to our own
    essential : when it ends everything stops; else it's started again
    """

    name: str
    command: Sequence[str]
    environment: Mapping[str, str] = field(default_factory=dict)
    essential: bool = False
    process: subprocess.Popen[bytes] | None = field(default=None, init=False)
    started: float = field(default=0.0, init=False)

    def start(self) -> None:
        """Start the program in a session of its own, so that Ctrl-C reaches us alone and we stop it in order."""
        self.started = time.monotonic()
        self.process = subprocess.Popen(  # noqa: S603  our own commands, no shell
            list(self.command),
            env=os.environ | dict(self.environment),
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=make_death_link(),
        )

    def exit_code(self) -> int | None:
        """Return how it ended, None while it runs."""
        return self.process.poll() if self.process else None

    def ask_to_stop(self) -> None:
        """Ask it to end."""
        if self.process and self.process.poll() is None:
            self.process.terminate()

    def end(self, deadline: float) -> None:
        """Wait until the deadline (monotonic seconds), then kill it and whatever it started."""
        if not self.process:
            return
        try:
            self.process.wait(max(0.0, deadline - time.monotonic()))
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        kill_group(self.process.pid)


def kill_group(leader: int) -> None:
    """Kill what is left of the process group that `leader` led."""
    try:
        os.killpg(leader, signal.SIGKILL)
    except (ProcessLookupError, PermissionError):
        return


def run_until_stopped(
    children: Sequence[Child],
    *,
    report: Callable[[str], None],
    ready: Callable[[], bool] | None = None,
    when_ready: Callable[[], None] | None = None,
    patience: float = 10.0,
) -> int:
    """Start the children and watch them until a stop signal comes or an essential one ends.

    `when_ready` is called once, after `ready` first says so. Returns the exit code for our own process:
    0 when asked to stop, else that of the essential child that ended. Nothing is left running.
    """
    stop = threading.Event()

    def ask(number: int, frame: FrameType | None) -> None:
        stop.set()

    before = {number: signal.signal(number, ask) for number in STOP_SIGNALS}
    try:
        for child in children:
            child.start()
        code = 0
        while not stop.wait(0.2):
            if when_ready and (ready is None or ready()):
                when_ready()
                when_ready = None
            ended = next((child for child in children if child.exit_code() is not None), None)
            if ended and ended.essential:
                report(f"The {ended.name} ended by itself (exit code {ended.exit_code()}).")
                code = ended.exit_code() or 1
                break
            if ended:
                restart(ended, report)
        return code
    finally:
        for child in children:
            child.ask_to_stop()
        deadline = time.monotonic() + patience
        for child in children:
            child.end(deadline)
        for number, handler in before.items():
            signal.signal(number, handler)


def restart(child: Child, report: Callable[[str], None]) -> None:
    """Start a child that ended again; one that ends at once is not tried more often than once in five seconds."""
    if time.monotonic() - child.started < 5.0:
        return
    report(f"The {child.name} ended by itself (exit code {child.exit_code()}); it is started again.")
    if child.process:
        kill_group(child.process.pid)
    child.start()
