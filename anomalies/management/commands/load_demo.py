"""Fills an installation with the demonstration."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from anomalies.demo.load import load_demo
from config.env import env


class Command(BaseCommand):
    """`manage.py load_demo`"""

    help = "Load the demonstration: people, trees, records. DEMO_PASSWORD sets the password; else one is made up."

    def handle(self, **options: Any) -> None:
        """Load it and say how to log in."""
        loaded = load_demo(password=env.str("DEMO_PASSWORD", default=""))
        self.stdout.write(f"Trees added: {len(loaded.trees)}" + "".join(f"\n  {name}" for name in loaded.trees))
        self.stdout.write(f"Entries added to the ledger: {loaded.entries:,}")
        for person in loaded.people:
            secret = person.password or "(as set before; DEMO_PASSWORD sets a new one)"
            self.stdout.write(f"Log in as {person.username} ({person.name}, {person.role}), password {secret}")
