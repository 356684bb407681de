"""Proves the ledger."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from anomalies.services.ledger_proof import Fault, Proof, prove_ledger

CHAIN_BROKEN, SOMETHING_DIFFERS = 2, 3
SHOWN = 20


class Command(BaseCommand):
    """`manage.py verify_ledger`"""

    help = (
        "Check that no entry of the ledger was changed, removed or moved, and that every record is what the ledger "
        "last recorded; writers wait meanwhile. Then that every stored file of evidence has the SHA-256 it was "
        "recorded with. Exit code: 0 whole, 2 an entry is bad (the first one is named), 3 the entries are good but "
        "records or files differ from them."
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
            sys.exit(CHAIN_BROKEN if proof.chain_fault else SOMETHING_DIFFERS)


def read_anchor(text: str) -> tuple[int, str]:
    """Return the anchor written as NUMBER:HASH; raises CommandError."""
    number, _, hash = text.partition(":")
    if not number.isdecimal() or len(hash) != 64:
        raise CommandError(f"{text!r} isn't an anchor. Write NUMBER:HASH, with 64 hexadecimal digits.")
    return int(number), hash.lower()


def describe_proof(proof: Proof) -> list[str]:
    """Return the lines for people."""
    if proof.is_whole:
        files = f", {proof.files} files of evidence unchanged" if proof.files else ""
        yes = f"The ledger is whole: {proof.entries} entries, {proof.records} records as recorded{files}."
        later = f"To check later that it is still this one: --anchor {proof.entries}:{proof.head}"
        return [yes, later] if proof.entries else [yes]
    lines = [f"First bad entry: {proof.chain_fault.message}"] if proof.chain_fault else []
    lines += list_faults(proof.record_faults, "records differ")
    if proof.file_faults:
        lines += [
            f"First bad file: {proof.file_faults[0].message}",
            *list_faults(proof.file_faults[1:], "files differ"),
        ]
    return lines


def list_faults(faults: Sequence[Fault], what: str) -> list[str]:
    """Return the messages of the first faults, and how many more there are."""
    more = len(faults) - SHOWN
    rest = [f"({more} more {what}; --json lists them all.)"] if more > 0 else []
    return [fault.message for fault in faults[:SHOWN]] + rest
