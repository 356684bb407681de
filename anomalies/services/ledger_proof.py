"""Proves that the ledger is whole, and that the records are what it says they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef

from anomalies.models.base import Record, record_models
from anomalies.models.evidence import Evidence
from anomalies.models.ledger import GENESIS, LedgerEntry
from anomalies.models.sign_off import SignOff
from anomalies.services.evidence_files import find_file_fault
from anomalies.services.ledger import lock_head
from anomalies.services.telemetry_series import find_series_fault
from config.kit.ledger import NOTHING, Recorded, kept_models

CHUNK = 2000
FEW = 20
"""Rows at a time of the kinds that hold whole files."""
UNKNOWN = " If it was written before the ledger knew this kind, `manage.py adopt_into_ledger` records it as it is now."


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that isn't as it was left. `sequence` names the entry it was noticed at, where there is one."""

    code: str
    message: str
    sequence: int | None = None
    kind: str = ""
    record_id: int | None = None


@dataclass(frozen=True, slots=True)
class Proof:
    """What was checked and what was found."""

    entries: int
    records: int
    head: str
    chain_fault: Fault | None
    record_faults: tuple[Fault, ...]
    files: int = 0
    file_faults: tuple[Fault, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Nothing was found."""
        return self.chain_fault is None and not self.record_faults and not self.file_faults


def prove_ledger(*, anchors: Mapping[int, str] | None = None) -> Proof:
    """Check every entry and every record; writers wait meanwhile, so that all is seen at one moment.

    Then every stored file of evidence, withdrawn or not, while writers go on: files never change, and what is added
    meanwhile may be left for the next time.

    anchors : sequence number -> hash, written down elsewhere earlier; what a rewrite of the whole chain can't pass
    """
    with transaction.atomic():
        head = lock_head()
        chain_fault = find_chain_fault(head.sequence, head.hash, anchors or {})
        checked, record_faults = check_records()
        record_faults += find_signature_faults()
    files, file_faults = check_files()
    return Proof(head.sequence, checked, head.hash, chain_fault, tuple(record_faults), files, tuple(file_faults))


def find_chain_fault(last: int, last_hash: str, anchors: Mapping[int, str]) -> Fault | None:
    """Return the first entry that is missing, changed or out of place; None if the chain is whole."""
    expected, previous = 1, GENESIS
    for entry in LedgerEntry.objects.order_by("sequence").iterator(CHUNK):
        fault = _find_entry_fault(entry, expected, previous, anchors)
        if fault:
            return fault
        expected, previous = entry.sequence + 1, entry.hash
    if (expected - 1, previous) != (last, last_hash):
        message = f"The ledger ends with entry {expected - 1}, but its head says that it ends with entry {last}."
        return Fault("end_differs", message, min(expected, last) or None)
    beyond = [sequence for sequence in anchors if not 1 <= sequence < expected]
    if beyond:
        return Fault("entry_missing", f"Entry {min(beyond)}, which is anchored, is missing.", min(beyond))
    return None


def _find_entry_fault(entry: LedgerEntry, expected: int, previous: str, anchors: Mapping[int, str]) -> Fault | None:
    number = entry.sequence
    if number != expected:
        return Fault("entry_missing", f"Entry {expected} is missing: after {expected - 1} comes {number}.", expected)
    if entry.compute_hash() != entry.hash:
        return Fault("entry_changed", f"Entry {number} was changed: its content doesn't give its hash.", number)
    if entry.previous_hash != previous:
        message = f"Entry {number} doesn't follow entry {number - 1}: it holds the hash of another one."
        return Fault("entry_out_of_place", message, number)
    if anchors.get(number, entry.hash) != entry.hash:
        return Fault("anchor_differs", f"Entry {number} isn't the one that was anchored.", number)
    return None


def check_records() -> tuple[int, list[Fault]]:
    """Return how many records were compared with the ledger, and the faults in the order of the ledger."""
    checked, faults = 0, []
    for model in [*record_models(), *kept_models()]:
        for fault in _check_kind(model):
            if fault is None:
                checked += 1
            else:
                faults.append(fault)
    return checked + len(faults), sorted(
        faults, key=lambda fault: (fault.sequence or 0, fault.kind, fault.record_id or 0)
    )


def find_signature_faults() -> list[Fault]:
    """Return the sign-offs under something that the ledger never held: their hash isn't that of the version signed."""
    signed = LedgerEntry.objects.filter(
        kind=OuterRef("signed_kind"),
        record_id=OuterRef("signed_id"),
        version=OuterRef("signed_version"),
        content_hash=OuterRef("signed_hash"),
    )
    faults = []
    for sign_off in SignOff.objects.filter(~Exists(signed)).order_by("pk"):
        what = f"version {sign_off.signed_version} of the {sign_off.signed_kind} {sign_off.signed_id}"
        message = f"The sign_off {sign_off.pk} doesn't fit {what} as the ledger recorded it."
        faults.append(Fault("signature_differs", message, None, SignOff.KIND, sign_off.pk))
    return faults


def check_files() -> tuple[int, list[Fault]]:
    """Return how many pieces of evidence have a file, and those whose file is missing or has another SHA-256.

    In the order in which they were added; bytes that several of them share are hashed once. What was computed from a
    telemetry file is computed again.
    """
    found: dict[str, str] = {}
    faults = []
    count = 0
    for evidence in Evidence.objects.exclude(sha256="").select_related("anomaly").order_by("pk").iterator(CHUNK):
        count += 1
        if evidence.sha256 not in found:
            found[evidence.sha256] = find_file_fault(evidence)
        fault = found[evidence.sha256]
        if not fault and evidence.kind == Evidence.Kind.TELEMETRY:
            fault = find_series_fault(evidence)
        if fault:
            message = f"The evidence {evidence.pk} ({evidence.anomaly.number} {evidence.label}): {fault}"
            faults.append(Fault("file_differs", message, None, evidence.KIND, evidence.pk))
    return count, faults


def _check_kind(model: Any) -> Iterator[Fault | None]:
    hint, chunk = ("", CHUNK) if issubclass(model, Record) else (UNKNOWN, FEW)
    entries = LedgerEntry.objects.filter(kind=model.KIND).order_by("sequence")
    last = {pk: (number, hash) for pk, number, hash in entries.values_list("record_id", "sequence", "content_hash")}
    for record in model._base_manager.order_by("pk").iterator(chunk):
        name = f"{model.KIND} {record.pk}"
        number, recorded = last.pop(record.pk, (None, ""))
        if number is None:
            message = f"The {name} is in the database, but the ledger knows nothing of it.{hint}"
            yield Fault("record_unknown", message, None, model.KIND, record.pk)
        elif record.content_hash() != recorded:
            fields = ", ".join(find_different_fields(record)) or "content"
            message = f"The {name} isn't what entry {number} recorded; different: {fields}."
            yield Fault("record_changed", message, number, model.KIND, record.pk)
        else:
            yield None
    for pk, (number, recorded) in last.items():
        if recorded == NOTHING:
            continue  # removed by its service
        message = f"The {model.KIND} {pk}, last recorded by entry {number}, is gone."
        yield Fault("record_missing", message, number, model.KIND, pk)


def find_different_fields(record: Recorded) -> list[str]:
    """Return the fields whose values aren't those that the record's entries add up to."""
    recorded: dict[str, Any] = {}
    for entry in LedgerEntry.objects.of(record.KIND, record.pk):
        recorded |= {name: after for name, (_, after) in entry.changes.items()}
    content = record.content()
    return sorted(name for name in {**recorded, **content} if recorded.get(name) != content.get(name))
