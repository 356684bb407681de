"""A task sent on either broker is done by a real worker, which then stops."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from tests.config.processes import ROOT, clean_environment, wait_until

SEND = """
import django; django.setup()
from tests.config.echo_tasks import echo
echo.delay({path!r}, "done")
"""


@pytest.mark.parametrize("broker", ["filesystem", "redis"])
def test_a_worker_does_a_task_and_stops_when_asked(broker, tmp_path, request):
    environment = clean_environment(VAR_DIR=str(tmp_path / "var"), DJANGO_SETTINGS_MODULE="config.settings.dev")
    if broker == "redis":
        environment["CELERY_BROKER_URL"] = request.getfixturevalue("redis_url")
    written = tmp_path / "written"
    subprocess.run([sys.executable, "-c", SEND.format(path=str(written))], cwd=ROOT, env=environment, check=True)
    worker = subprocess.Popen(
        [sys.executable, "-m", "celery", "--quiet", "-A", "config", "worker", "--include", "tests.config.echo_tasks"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        wait_until(written.exists, seconds=120)  # a first start compiles the kernels
        assert written.read_text() == "done"
        worker.terminate()
        assert worker.wait(20) == 0
    finally:
        if worker.poll() is None:
            os.killpg(worker.pid, signal.SIGKILL)
            worker.wait()
