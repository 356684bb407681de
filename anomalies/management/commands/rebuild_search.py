"""Makes the search texts anew."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from anomalies.services.search import rebuild_search


class Command(BaseCommand):
    """`manage.py rebuild_search`"""

    help = "Make the text that the search looks through anew, from all records."

    def handle(self, **options: Any) -> None:
        """Rebuild, and say how much."""
        with transaction.atomic():
            counts = rebuild_search()
        for kind, count in counts.items():
            self.stdout.write(f"{kind.replace('_', ' ')}: {count:,}")
