"""App of trees and their quantification."""

from __future__ import annotations

from django.apps import AppConfig


class FaultTreeConfig(AppConfig):
    """Registers the app; imports nothing heavy."""

    name = "faulttree"
    verbose_name = "fault trees"
    default_auto_field = "django.db.models.BigAutoField"
