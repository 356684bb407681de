"""The Celery app. Brokers, queues and time limits are in settings; this file only joins them to the tasks."""

from __future__ import annotations

import os
import signal

from celery import Celery
from celery.signals import beat_embedded_init

from config.kit.death_link import make_death_link

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.dev")

app = Celery("siftwood")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


def end_clock_with_worker(**kwargs: object) -> None:
    """Let the clock inside a worker die with it; it would go on sending sweeps to nobody."""
    make_death_link(signal.SIGKILL, parent=os.getppid())()


beat_embedded_init.connect(end_clock_with_worker)
