"""How a worker process is named, and whether the one of that name still lives."""

from __future__ import annotations

import os
import socket
from pathlib import Path


def name_worker() -> str:
    """Return host, process id and start time of this process: a number used again later is not the same worker."""
    return f"{socket.gethostname()}:{os.getpid()}:{_start_time(os.getpid())}"


def is_known_dead(worker: str) -> bool:
    """Tell whether a worker of this host has ended; False when that can't be known from here."""
    host, _, rest = worker.rpartition(":")[0].rpartition(":")
    started = worker.rpartition(":")[2]
    if host != socket.gethostname() or not rest.isdigit() or not started:
        return False
    return _start_time(int(rest)) != started


def _start_time(pid: int) -> str:
    """Return the kernel's start time of a process, empty if there is none of that number (or no /proc)."""
    try:
        text = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return ""
    after_name = text.rpartition(")")[2].split()
    return "" if after_name[0] == "Z" else after_name[19]
