"""A step in the bench, from the request to the answer with all pieces:  python -m benchmarks.steps [--steps 12]

Trees of 50, 200 and 500 basic events made by seed; each step gives an event another probability, and the service
checks, keeps, computes, draws and writes everything that changes. In this process, with the test client of the
framework and an embedded database in a temporary folder: no network, no browser.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import tempfile
import time
from typing import Any

SIZES = (50, 200, 500)
HOURS = 1000.0


def prepare(folder: str) -> Any:
    """Set up a service in a folder; returns a person who may do everything."""
    os.environ |= {"VAR_DIR": folder, "DJANGO_SETTINGS_MODULE": "config.settings.test", "LOG_LEVEL": "ERROR"}
    import django

    django.setup()
    from django.contrib.auth.models import User
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    return User.objects.create_superuser("boss")


def measure(boss: Any, size: int, steps: int) -> list[float]:
    """Seconds of each step."""
    from django.test import Client

    from benchmarks.trees import make_tree
    from faulttree.engine.exchange.write_xml import write_open_psa
    from faulttree.services.drafts import open_draft, set_mission_time
    from faulttree.services.trees import import_tree

    source = write_open_psa(make_tree(size))
    revision = import_tree(actor=boss, source=source, file_name=f"tree-{size}.xml", name=f"tree-{size}")
    draft = open_draft(actor=boss, tree_id=revision.tree_id)
    set_mission_time(draft_id=draft.pk, actor=boss, hours=HOURS)
    client = Client()
    client.force_login(boss)
    client.get(draft.get_absolute_url())
    times = []
    for number in range(steps + 1):
        edit = {"do": "value", "name": "E000", "expression": 0.001 * (number + 1)}
        body = json.dumps({"seen": number, "edit": edit, "view": "", "chosen": "E000", "under": ""})
        start = time.perf_counter()
        answer = client.post(
            f"{draft.get_absolute_url()}steps/", body, content_type="application/json", HTTP_ACCEPT="application/json"
        )
        times.append(time.perf_counter() - start)
        assert answer.status_code == 200, answer.content
    return times[1:]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--steps", type=int, default=12)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        boss = prepare(folder)
        print("events   median ms   slowest ms   (of one step, request to answer)")
        for size in SIZES:
            times = [1000.0 * seconds for seconds in measure(boss, size, options.steps)]
            print(f"{size:6}   {statistics.median(times):9.0f}   {max(times):10.0f}")


if __name__ == "__main__":
    main()
