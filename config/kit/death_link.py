"""Lets a child process die with its parent, however that ends."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from collections.abc import Callable

PR_SET_PDEATHSIG = 1  # prctl(2)


def make_death_link(sent: signal.Signals = signal.SIGTERM, parent: int | None = None) -> Callable[[], None]:
    """Return what a child runs before its program: the kernel will send it `sent` when its parent ends.

    parent : the parent's process id; None means the caller is the parent. Linux only: elsewhere it does
    nothing, and a parent that is killed leaves its children behind.
    """
    if not sys.platform.startswith("linux"):
        return lambda: None
    prctl = ctypes.CDLL(None, use_errno=True).prctl
    expected = parent or os.getpid()

    def link() -> None:
        prctl(PR_SET_PDEATHSIG, int(sent), 0, 0, 0)
        if os.getppid() != expected:  # it ended before the link was made
            os._exit(1)

    return link
