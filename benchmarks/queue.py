"""A queue of jobs over one worker process and over two:  python -m benchmarks.queue [--jobs 200] [--events 60]

A service of its own is started in a temporary folder, with the embedded database and broker. Each job is a run of
one tree, made by seed, at a mission time of its own, so that no two share an answer. The time is from the moment at
which all wait to the end of the last; both numbers of workers are measured in one go, and the ratio is printed.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

ASK = """
import sys, django; django.setup()
from django.contrib.auth.models import User
from benchmarks.trees import make_tree
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.request import Request
from faulttree.services.runs import request_run
from faulttree.services.trees import import_tree
jobs, events = int(sys.argv[1]), int(sys.argv[2])
boss = User.objects.create_superuser("boss")
source = write_open_psa(make_tree(events))
revision = import_tree(actor=boss, source=source, file_name="tree.xml")
for number in range(jobs):
    request_run(revision_id=revision.pk, actor=boss, request=Request(mission_time=100.0 + number))
"""
COUNT = """
import time, django; django.setup()
from django.db.models import Max, Min
from faulttree.models import Run
while Run.objects.filter(state__in=("queued", "running")).exists():
    time.sleep(0.1)
ends = Run.objects.aggregate(first=Min("started_at"), last=Max("finished_at"))
states = sorted(set(Run.objects.values_list("state", flat=True)))
print((ends["last"] - ends["first"]).total_seconds(), ",".join(states))
"""


def measure(workers: int, jobs: int, events: int) -> tuple[float, str]:
    """Seconds from the first job's start to the last one's end, and the states in which they ended."""
    with tempfile.TemporaryDirectory() as folder:
        settings = {"VAR_DIR": folder, "DJANGO_SETTINGS_MODULE": "config.settings.dev", "LOG_LEVEL": "ERROR"}
        environment = os.environ | settings | {"WORKER_PROCESSES": str(workers), "RUN_PARTS": "1"}

        def run(*command: str) -> str:
            done = subprocess.run(
                [sys.executable, *command], cwd=ROOT, env=environment, check=True, capture_output=True, text=True
            )
            return done.stdout

        run("manage.py", "migrate", "-v0")
        run("-c", ASK, str(jobs), str(events))
        worker = subprocess.Popen(
            [sys.executable, "-m", "celery", "--quiet", "-A", "config", "worker", "--pool", "prefork"],
            cwd=ROOT,
            env=environment | {"REMAP_SIGTERM": "SIGQUIT"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            seconds, states = run("-c", COUNT).split()
        finally:
            worker.terminate()
            worker.wait(30)
        time.sleep(0.5)
    return float(seconds), states


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--events", type=int, default=60)
    options = parser.parse_args()
    print(f"{options.jobs} jobs, a tree of {options.events} events each; processors: {os.cpu_count()}")
    times = {}
    for workers in (1, 2):
        times[workers], states = measure(workers, options.jobs, options.events)
        rate = options.jobs / times[workers]
        print(f"{workers} worker process(es)  {times[workers]:8.1f} s  {rate:6.1f} jobs per s  ended: {states}")
    print(f"two are {times[1] / times[2]:.2f} times as fast as one")


if __name__ == "__main__":
    main()
