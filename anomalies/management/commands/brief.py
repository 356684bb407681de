"""Writes the brief of an activity to a file or as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from anomalies.models import Activity
from anomalies.reads.brief.build import read_brief
from anomalies.reads.brief.paper import print_brief
from anomalies.reads.brief.parts import CAUTION
from anomalies.reads.paper import SIZES
from config.kit.errors import DomainError


class Command(BaseCommand):
    """`manage.py brief`"""

    help = f"Brief of an activity: what has changed since last time, from the records. {CAUTION}"

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("activity", metavar="ACTIVITY", help="title or key of the activity")
        form = parser.add_mutually_exclusive_group(required=True)
        form.add_argument("--pdf", metavar="FILE", help="write a PDF to this file")
        form.add_argument("--json", action="store_true", help="print it as JSON, each sentence with its records")
        parser.add_argument("--paper", choices=sorted(SIZES), default="a4", help="paper of the PDF (default: a4)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write it."""
        brief = read_brief(_find(options["activity"]))
        if options["json"]:
            self.stdout.write(json.dumps(brief.as_json(), indent=2, ensure_ascii=False))
            return
        try:
            content = print_brief(brief, paper=options["paper"])
            Path(options["pdf"]).write_bytes(content)
        except (DomainError, OSError) as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"{options['pdf']}: {len(content):,} bytes. {brief.verdict.text}")


def _find(words: str) -> Activity:
    rows = Activity.objects.select_related("lead")
    found = list(rows.filter(title=words)) or (list(rows.filter(pk=int(words))) if words.isdecimal() else [])
    if not found:
        raise CommandError(f"No activity is called “{words}”, and none has this key.")
    if len(found) > 1:
        keys = ", ".join(str(each.pk) for each in found)
        raise CommandError(f"{len(found)} activities are called “{words}”: give the key of one, of {keys}.")
    return found[0]
