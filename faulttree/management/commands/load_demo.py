"""Fills an installation with the demonstration."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from config.env import env
from faulttree.services.demo import load_demo


class Command(BaseCommand):
    """`manage.py load_demo`"""

    help = "Load the people and trees of the demonstration. DEMO_PASSWORD sets the password; else one is made up."

    def handle(self, **options: Any) -> None:
        """Load it and say how to log in."""
        people, added = load_demo(password=env.str("DEMO_PASSWORD", default=""))
        self.stdout.write(f"Trees added: {len(added)}" + "".join(f"\n  {revision.tree}" for revision in added))
        for person in people:
            secret = person.password or "(as set before; DEMO_PASSWORD sets a new one)"
            self.stdout.write(f"Log in as {person.username} ({person.role}), password {secret}")
