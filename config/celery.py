"""The Celery app. Brokers, queues and time limits are in settings; this file only joins them to the tasks."""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.dev")

app = Celery("siftwood")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
