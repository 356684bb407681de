"""Serves pages and runs jobs on one machine: the web server and one worker, started and stopped together."""

from __future__ import annotations

import errno
import socket
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.env import VAR_DIR
from config.processes import Child, run_until_stopped


class Command(BaseCommand):
    """`manage.py serve`"""

    help = "Serve the pages and run the background jobs on this machine, until Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the options."""
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: %(default)s)")
        parser.add_argument("--threads", type=int, default=8, help="requests answered at once (default: %(default)s)")
        parser.add_argument("--no-worker", action="store_true", help="jobs are run by workers started elsewhere")

    def handle(self, *, host: str, port: int, threads: int, no_worker: bool, **options: Any) -> None:
        """Run until stopped."""
        refuse_port_in_use(host, port)
        children = [make_web_server(host, port, threads)]
        if not no_worker:
            children.append(make_worker())
        address = f"http://{host}:{port}/"
        code = run_until_stopped(
            children,
            report=self.stderr.write,
            ready=lambda: answers(host, port),
            when_ready=lambda: self.say(f"Siftwood answers at {address} (Ctrl-C stops it)"),
        )
        if code:
            raise CommandError("Stopped, because the web server did.", returncode=code)
        self.say("Stopped; nothing is left running.")

    def say(self, line: str) -> None:
        """Print a line at once, also when the output is a pipe."""
        self.stdout.write(line)
        self.stdout.flush()


def make_web_server(host: str, port: int, threads: int) -> Child:
    """Return the web server: one process with threads; the long work is the worker's."""
    return Child(
        "web server",
        [
            *(sys.executable, "-m", "gunicorn", "config.wsgi"),
            *("--bind", f"{host}:{port}"),
            *("--workers", "1", "--worker-class", "gthread", "--threads", str(threads)),
            *("--timeout", "60", "--graceful-timeout", "5"),
            *("--log-level", "warning", "--no-control-socket"),
        ],
        essential=True,
    )


def make_worker() -> Child:
    """Return the job worker, with the clock that starts the sweeps.

    It takes SIGTERM as "stop now": the job it is on is a row in the database, and is taken up again later.
    """
    return Child(
        "job worker",
        [
            *(sys.executable, "-m", "celery", "--quiet", "-A", "config", "worker"),
            *("--pool", "prefork", "--loglevel", "WARNING"),
            *("--without-gossip", "--without-mingle", "--without-heartbeat"),
            *("--beat", "--schedule", str(VAR_DIR / "beat-schedule")),
        ],
        environment={
            "REMAP_SIGTERM": "SIGQUIT",
            # On one's own machine root may be all there is; what the worker computes comes from its own service.
            "PYTHONWARNINGS": "ignore:You're running the worker with superuser privileges",
        },
    )


def refuse_port_in_use(host: str, port: int) -> None:
    """Raise CommandError when something else listens there already."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            if error.errno != errno.EADDRINUSE:
                raise CommandError(f"Can't listen on {host}:{port}: {error.strerror}.") from error
            raise CommandError(
                f"Port {port} of {host} is in use; stop what uses it or choose another: make run PORT={port + 1}"
            ) from error


def answers(host: str, port: int) -> bool:
    """Tell whether something listens there."""
    try:
        socket.create_connection((host, port), timeout=0.2).close()
    except OSError:
        return False
    return True
