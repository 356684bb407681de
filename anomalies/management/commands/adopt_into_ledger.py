"""Takes rows into the ledger that were written before it knew their kind."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from anomalies.services.adopting import adopt_rows


class Command(BaseCommand):
    """`manage.py adopt_into_ledger`"""

    help = (
        "Record the revisions of trees, variants and data sets that the ledger knows nothing of, as they are now. "
        "Needed once after an update, where trees were there before the ledger knew them: what happened to them "
        "until then can't be proved. The entries say so."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("--dry-run", action="store_true", help="only name what would be recorded")

    def handle(self, *, dry_run: bool, **options: Any) -> None:
        """Record them, and name each."""
        adopted = adopt_rows(dry_run=dry_run)
        for name in adopted:
            self.stdout.write(name)
        done = "would be recorded" if dry_run else "recorded as they are now"
        self.stdout.write(f"{len(adopted)} rows {done}." if adopted else "The ledger knows every row.")
