"""PostgreSQL and Redis of our own for the tests: on free ports, in temporary folders, gone afterwards.

As a command it runs another command with them at hand:

    python -m tests.servers pytest -m database
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

FALLBACK_USERS = ("postgres", "redis", "nobody")


class ServerMissing(Exception):
    """The program isn't installed; the message says what to install."""


def find_program(name: str, package: str) -> str:
    """Return the path of a server program, looking where Debian hides it too; raises ServerMissing."""
    beside = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)
    found = str(beside[0]) if beside else shutil.which(name)
    if not found:
        raise ServerMissing(f"{name} isn't installed (Debian package: {package})")
    return found


def drop_privileges(folder: Path) -> dict[str, Any]:
    """Return what makes Popen run as somebody without privileges, to whom the folder is given; {} if we are so already.

    PostgreSQL refuses to run as root, and a test server has no need of it.
    """
    if os.geteuid() != 0:
        return {}
    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    entry = next(known[name] for name in FALLBACK_USERS if name in known)
    os.chown(folder, entry.pw_uid, entry.pw_gid)
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


def pick_free_port() -> int:
    """Return a port nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def accepts(port: int) -> bool:
    """Tell whether somebody listens on the port."""
    try:
        socket.create_connection(("127.0.0.1", port), timeout=0.2).close()
    except OSError:
        return False
    return True


@contextmanager
def running(command: list[str], *, folder: Path, ready: Callable[[], bool], **popen: Any) -> Iterator[None]:
    """Run a server until the block ends; raises RuntimeError with its log if it isn't ready within 20 s."""
    log = folder / "server.log"
    with log.open("wb") as output:
        server = subprocess.Popen(
            command, cwd=folder, stdin=subprocess.DEVNULL, stdout=output, stderr=subprocess.STDOUT, **popen
        )
    try:
        deadline = time.monotonic() + 20
        while not ready():
            if server.poll() is not None or time.monotonic() > deadline:
                raise RuntimeError(f"{command[0]} didn't start:\n{log.read_text(errors='replace')}")
            time.sleep(0.05)
        yield
    finally:
        server.terminate()
        try:
            server.wait(10)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()


@contextmanager
def temporary_folder() -> Iterator[Path]:
    """Make a folder that other users can reach by its path; pytest's own are closed to them."""
    folder = Path(tempfile.mkdtemp(prefix="siftwood-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def running_postgresql() -> Iterator[str]:
    """Run an empty PostgreSQL; gives its DATABASE_URL. Raises ServerMissing."""
    initdb = find_program("initdb", "postgresql")
    server = find_program("postgres", "postgresql")
    with temporary_folder() as folder:
        who = drop_privileges(folder)
        data = folder / "data"
        made = subprocess.run(
            [initdb, "-D", str(data), "-U", "siftwood", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync"],
            cwd=folder,
            capture_output=True,
            text=True,
            **who,
        )
        if made.returncode:
            raise RuntimeError(f"initdb failed:\n{made.stderr}")
        port = pick_free_port()
        options = {
            "listen_addresses": "127.0.0.1",
            "port": port,
            "unix_socket_directories": folder,
            "fsync": "off",
            "synchronous_commit": "off",
            "full_page_writes": "off",
        }
        command = [server, "-D", str(data), *(f"--{name}={value}" for name, value in options.items())]
        url = f"postgres://siftwood@127.0.0.1:{port}/postgres"
        with running(command, folder=folder, ready=lambda: answers_queries(url), **who):
            yield url


def answers_queries(url: str) -> bool:
    """Tell whether the PostgreSQL at `url` lets us in; it listens a moment before it does."""
    import psycopg

    try:
        psycopg.connect(url, connect_timeout=1).close()
    except psycopg.OperationalError:
        return False
    return True


@contextmanager
def running_redis(port: int | None = None) -> Iterator[str]:
    """Run an empty Redis that keeps nothing, on a free port or this one; gives its URL. Raises ServerMissing."""
    server = find_program("redis-server", "redis-server")
    with temporary_folder() as folder:
        who = drop_privileges(folder)
        port = port or pick_free_port()
        command = [server, "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--appendonly", "no"]
        with running(command, folder=folder, ready=lambda: accepts(port), **who):
            yield f"redis://127.0.0.1:{port}/0"


def main(command: list[str]) -> int:
    """Run the command with DATABASE_URL pointing at a fresh PostgreSQL; returns its exit code."""
    with ExitStack() as stack:
        try:
            url = stack.enter_context(running_postgresql())
        except ServerMissing as missing:
            sys.stderr.write(f"SKIPPED on PostgreSQL: {missing}\n")
            return 0
        return subprocess.call([sys.executable, "-m", *command], env=os.environ | {"DATABASE_URL": url})


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
