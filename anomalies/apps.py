"""App of the records: what went wrong, and what is done about it."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class AnomaliesConfig(AppConfig):
    """Registers the app."""

    name = "anomalies"
    verbose_name = "anomalies"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the rules and the ledger; see to it that roles are there after every migration."""
        import anomalies.permissions  # noqa: F401
        from anomalies.services.ledger import append_entry
        from config.kit.ledger import register_writer

        register_writer(append_entry)

        post_migrate.connect(_ensure_roles, sender=self)


def _ensure_roles(sender: AppConfig, **kwargs: Any) -> None:
    from django.contrib.auth.management import create_permissions

    from anomalies.services.people import ensure_roles

    create_permissions(sender, verbosity=0)  # ours may be connected before Django's
    ensure_roles()
