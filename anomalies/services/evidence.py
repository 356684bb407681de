"""Writes of evidence: added once, described, opened, withdrawn; never changed and never deleted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, BinaryIO

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from anomalies.clock import now
from anomalies.errors import Missing
from anomalies.file_types import PICTURES, TEXT
from anomalies.models import Anomaly, Evidence, EvidenceOpening
from anomalies.services.checks import begin_move, clean_values, need_past, need_text
from anomalies.services.evidence_files import StoredFile, Upload, open_file, store_file
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.support import find_what_rests_on
from anomalies.services.telemetry_series import read_samples, write_series
from anomalies.states import ANOMALY, EVIDENCE
from anomalies.telemetry import find_spans
from config.kit.errors import BadInput
from config.kit.permissions import require

K = Evidence.Kind
COMMON = ("kind", "title", "description", "taken_at")
OF_KIND: dict[str, tuple[str, ...]] = {
    K.PHOTOGRAPH: (),
    K.DOCUMENT: (),
    K.STATEMENT: ("statement", "stated_by"),
    K.TELEMETRY: ("unit", "low", "high"),
    K.LINK: ("address",),
}
TYPES: dict[str, frozenset[str] | None] = {  # by content; None: whatever it is, it's handed out as a file to save
    K.PHOTOGRAPH: PICTURES,
    K.DOCUMENT: None,
    K.STATEMENT: PICTURES | {TEXT, "application/pdf"},
    K.TELEMETRY: frozenset({TEXT}),
    K.LINK: frozenset(),
}
DESCRIBED = ("title", "description", "taken_at", "low", "high")
WHY = "Say why it doesn't count any more."
NO_FILE = "Choose a file."
NO_WORDS = "Write the statement down, or choose a file that holds it."
NO_SPEAKER = "Say whose statement it is."
NO_UNIT = "Say in which unit the values are."
NOT_WEB = "Give an address that starts with http:// or https://."


def add_evidence(
    *, anomaly_id: int, actor: User, kind: str, title: str, file: Upload | None = None, **details: Any
) -> Evidence:
    """The anomaly has one more piece of evidence; `details` may give what OF_KIND and COMMON name.

    Raises BadInput that names what this kind needs; for telemetry BadSeries with every line that can't be used.
    """
    require(actor, "anomaly.gather", Anomaly.objects.get(pk=anomaly_id))
    given = {name: value for name, value in details.items() if value not in (None, "")}
    values = clean_values(Evidence(), {"kind": kind, "title": title} | given, COMMON + OF_KIND.get(kind, ()))
    _check_details(kind, values, has_file=file is not None)
    stored = _store(kind, file) if file is not None else None
    return _record(anomaly_id, actor, values, stored)


@transaction.atomic
def _record(anomaly_id: int, actor: User, values: Mapping[str, Any], stored: StoredFile | None) -> Evidence:
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "gather", actor)
    last = anomaly.evidence.aggregate(last=Max("position"))["last"] or 0
    evidence = Evidence(**values, anomaly=anomaly, position=last + 1, added_by=actor, added_at=now())
    if stored is not None:
        evidence.file_name, evidence.media_type = stored.name, stored.media_type
        evidence.size, evidence.sha256 = stored.size, stored.sha256
    samples = read_samples(evidence) if evidence.kind == K.TELEMETRY else []
    create_record(evidence, actor=actor, action="evidence.add")
    if samples:
        write_series(evidence, samples)
    return evidence


@transaction.atomic
def describe_evidence(
    *, evidence_id: int, actor: User, version: int, changes: Mapping[str, Any], reason: str = ""
) -> Evidence:
    """Its title, description, moment or limits are corrected; what it holds stays. Raises EditConflict."""
    evidence = _lock(evidence_id)
    begin_move(evidence, EVIDENCE, "describe", actor)
    ANOMALY.move("gather", evidence.anomaly.state)
    allowed = tuple(name for name in DESCRIBED if name in (*COMMON, *OF_KIND[evidence.kind]))
    cleaned = clean_values(evidence, changes, allowed)
    check_version(evidence, seen=version, changes=cleaned)
    changed = {name: value for name, value in cleaned.items() if getattr(evidence, name) != value}
    if changed.get("taken_at"):
        need_past("taken_at", changed["taken_at"])
    limits = {name: changed.get(name, getattr(evidence, name)) for name in ("low", "high")}
    find_spans([], **limits)  # refuses limits that cross
    if changed:
        change_record(evidence, changed, actor=actor, action="evidence.describe", reason=reason)
        if {"low", "high"} & changed.keys():
            write_series(evidence, read_samples(evidence))
    return evidence


@transaction.atomic
def open_evidence(*, evidence_id: int, actor: User) -> tuple[Evidence, BinaryIO]:
    """Return the evidence and its file, checked against its hash; that the actor opened it is on record."""
    evidence = _lock(evidence_id)
    begin_move(evidence, EVIDENCE, "open", actor)
    if not evidence.sha256:
        raise BadInput("There is no file with this evidence.", code="no_file")
    file = open_file(evidence)
    opening = EvidenceOpening(evidence=evidence, person=actor, opened_at=now())
    create_record(opening, actor=actor, action="evidence.open")
    return evidence, file


@transaction.atomic
def withdraw_evidence(*, evidence_id: int, actor: User, reason: str) -> Evidence:
    """It doesn't count any more, and stays on record. Refused while something rests on it alone."""
    reason = need_text("reason", reason, WHY)
    evidence = _lock(evidence_id)
    move = begin_move(evidence, EVIDENCE, "withdraw", actor)
    ANOMALY.move("gather", evidence.anomaly.state)
    gaps = find_what_rests_on(evidence)
    if gaps:
        raise Missing("This can't be withdrawn yet: something rests on it alone.", gaps, code="rested_on")
    changes = {"state": move.target, "state_reason": reason}
    change_record(evidence, changes, actor=actor, action="evidence.withdraw", reason=reason)
    return evidence


def _check_details(kind: str, values: Mapping[str, Any], *, has_file: bool) -> None:
    faults: dict[str, list[str]] = {}
    if kind in (K.PHOTOGRAPH, K.DOCUMENT, K.TELEMETRY) and not has_file:
        faults["file"] = [NO_FILE]
    if kind == K.STATEMENT and not (has_file or values.get("statement")):
        faults["statement"] = [NO_WORDS]
    if kind == K.STATEMENT and not values.get("stated_by"):
        faults["stated_by"] = [NO_SPEAKER]
    if kind == K.TELEMETRY and not values.get("unit"):
        faults["unit"] = [NO_UNIT]
    if kind == K.LINK and not str(values.get("address", "")).startswith(("http://", "https://")):
        faults["address"] = [NOT_WEB]
    if kind == K.LINK and has_file:
        faults["file"] = ["A link has no file."]
    if faults:
        raise BadInput("Something is missing; nothing was saved.", fields=faults)
    if values.get("taken_at"):
        need_past("taken_at", values["taken_at"])
    find_spans([], low=values.get("low"), high=values.get("high"))


def _store(kind: str, file: Upload) -> StoredFile:
    stored = store_file(file)
    types = TYPES[kind]
    if types is not None and stored.media_type not in types:
        expected = ", ".join(sorted(types)) or "none"
        message = f"By its content this file is {stored.media_type}; here only these are taken: {expected}."
        raise BadInput(message, code="bad_file", fields={"file": [message]})
    return stored


def _lock(evidence_id: int) -> Evidence:
    """Lock the anomaly first: nothing may come to rest on the evidence meanwhile."""
    anomaly_id = Evidence.objects.values_list("anomaly_id", flat=True).get(pk=evidence_id)
    Anomaly.objects.lock(anomaly_id)
    return Evidence.objects.lock(evidence_id)
