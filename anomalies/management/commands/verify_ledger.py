"""Proves the ledger."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from anomalies.services.ledger_proof import Proof, prove_ledger

CHAIN_BROKEN, RECORDS_DIFFER = 2, 3
SHOWN = 20


class Command(BaseCommand):
    """`manage.py verify_ledger`"""

    help = (
        "Check that no entry of the ledger was changed, removed or moved, and that every record is what the ledger "
        "last recorded. Writers wait meanwhile. Exit code: 0 whole, 2 an entry is bad (the first one is named), "
        "3 the entries are good but records differ from them."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument(
            "--anchor",
            action="append",
            default=[],
            metavar="NUMBER:HASH",
            help="an entry as it was printed at the end of an earlier check and kept elsewhere; may be repeated",
        )
        parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")

    def handle(self, *, anchor: list[str], **options: Any) -> None:
        """Check, print, leave with the exit code that fits."""
        proof = prove_ledger(anchors=dict(read_anchor(text) for text in anchor))
        if options["json"]:
            self.stdout.write(json.dumps({"whole": proof.is_whole} | asdict(proof), indent=1, ensure_ascii=False))
        else:
            self.stdout.write("\n".join(describe_proof(proof)))
        if not proof.is_whole:
            sys.exit(CHAIN_BROKEN if proof.chain_fault else RECORDS_DIFFER)


def read_anchor(text: str) -> tuple[int, str]:
    """Return the anchor written as NUMBER:HASH; raises CommandError."""
    number, _, hash = text.partition(":")
    if not number.isdecimal() or len(hash) != 64:
        raise CommandError(f"{text!r} isn't an anchor. Write NUMBER:HASH, with 64 hexadecimal digits.")
    return int(number), hash.lower()


def describe_proof(proof: Proof) -> list[str]:
    """Return the lines for people."""
    if proof.is_whole:
        yes = f"The ledger is whole: {proof.entries} entries, {proof.records} records as recorded."
        later = f"To check later that it is still this one: --anchor {proof.entries}:{proof.head}"
        return [yes, later] if proof.entries else [yes]
    lines = []
    if proof.chain_fault:
        lines += [f"First bad entry: {proof.chain_fault.message}"]
    lines += [fault.message for fault in proof.record_faults[:SHOWN]]
    more = len(proof.record_faults) - SHOWN
    return [*lines, f"({more} more records differ; --json lists them all.)"] if more > 0 else lines
