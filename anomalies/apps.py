"""App of the records: what went wrong, and what is done about it."""

from __future__ import annotations

from django.apps import AppConfig


class AnomaliesConfig(AppConfig):
    """Registers the app."""

    name = "anomalies"
    verbose_name = "anomalies"
    default_auto_field = "django.db.models.BigAutoField"
