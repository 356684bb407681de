"""Writes of evidence: added once, described, opened, withdrawn; never changed and never deleted.

Files are read, hashed and parsed outside of transactions: nobody waits for somebody else's upload.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, BinaryIO

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from anomalies.clock import now
from anomalies.errors import Missing
from anomalies.models import Anomaly, Evidence, EvidenceOpening
from anomalies.services.checks import begin_move, clean_values, need_past, need_text
from anomalies.services.evidence_files import StoredFile, Upload, clean_name, open_file, store_file
from anomalies.services.evidence_kinds import EXPECTED, NO_FILE, OF_KIND, TYPES, check_details
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.support import find_what_rests_on
from anomalies.services.telemetry_series import parse_samples, read_samples, write_series
from anomalies.states import ANOMALY, EVIDENCE
from anomalies.telemetry import Sample, find_spans
from config.kit.errors import BadInput

K = Evidence.Kind
COMMON = ("kind", "title", "description", "taken_at")
DESCRIBED = ("title", "description", "taken_at", "low", "high")
LIMITS = ("low", "high")
LONGEST_TITLE = 200
MOST_FILES = 50
WHY = "Say why it doesn't count any more."


@dataclass(frozen=True, slots=True)
class Prepared:
    """A piece of evidence with all that takes time done: its file is stored, and read if it's telemetry."""

    values: Mapping[str, Any]
    stored: StoredFile | None = None
    samples: list[Sample] = field(default_factory=list)


def add_evidence(
    *, anomaly_id: int, actor: User, kind: str, title: str, file: Upload | None = None, **details: Any
) -> Evidence:
    """The anomaly has one more piece of evidence; `details` may give what OF_KIND and COMMON name.

    Raises BadInput that names what this kind needs; for telemetry BadSeries with every line that can't be used.
    """
    _check_open_to(anomaly_id, actor)
    prepared = _prepare(kind, title, file, details)
    return _record(anomaly_id, actor, [prepared])[0]


def add_files(
    *, anomaly_id: int, actor: User, kind: str, files: Sequence[Upload], title: str = "", **details: Any
) -> list[Evidence]:
    """Each file is a piece of evidence of its own, or none of them is.

    They share the title and are counted in it; without one each is called as its file is. Raises BadInput that names
    every file that can't be used.
    """
    _check_open_to(anomaly_id, actor)
    if not 1 <= len(files) <= MOST_FILES:
        message = f"At most {MOST_FILES} files at a time." if files else NO_FILE
        raise BadInput(message, fields={"file": [message]})
    prepared, faults = [], []
    for number, file in enumerate(files, 1):
        try:
            prepared.append(_prepare(kind, _make_title(title, file, number, len(files)), file, details))
        except BadInput as error:
            if set(error.fields) != {"file"}:
                raise
            faults += error.fields["file"]
    if faults:
        raise BadInput("Some files can't be used; none was saved.", code="bad_file", fields={"file": faults})
    return _record(anomaly_id, actor, prepared)


def _check_open_to(anomaly_id: int, actor: User) -> None:
    """Refuse before a file is read what would be refused after."""
    begin_move(Anomaly.objects.get(pk=anomaly_id), ANOMALY, "gather", actor)


def _make_title(title: str, file: Upload, number: int, count: int) -> str:
    if not title.strip():
        return clean_name(file.name or "")[:LONGEST_TITLE]
    return title if count == 1 else f"{title} ({number} of {count})"


def _prepare(kind: str, title: str, file: Upload | None, details: Mapping[str, Any]) -> Prepared:
    given = {name: value for name, value in details.items() if value not in (None, "")}
    values = clean_values(Evidence(), {"kind": kind, "title": title} | given, COMMON + OF_KIND.get(kind, ()))
    check_details(kind, values, has_file=file is not None)
    if file is None:
        return Prepared(values)
    samples: list[Sample] = []
    read = (lambda stream: samples.extend(parse_samples(stream))) if kind == K.TELEMETRY else None
    return Prepared(values, store_file(file, types=TYPES[kind], expected=EXPECTED[kind], read=read), samples)


@transaction.atomic
def _record(anomaly_id: int, actor: User, prepared: Sequence[Prepared]) -> list[Evidence]:
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "gather", actor)
    last = anomaly.evidence.aggregate(last=Max("position"))["last"] or 0
    made = []
    for position, each in enumerate(prepared, last + 1):
        evidence = Evidence(**each.values, anomaly=anomaly, position=position, added_by=actor, added_at=now())
        if each.stored is not None:
            evidence.file_name, evidence.media_type = each.stored.name, each.stored.media_type
            evidence.size, evidence.sha256 = each.stored.size, each.stored.sha256
        create_record(evidence, actor=actor, action="evidence.add")
        if each.samples:
            write_series(evidence, each.samples)
        made.append(evidence)
    return made


def describe_evidence(
    *, evidence_id: int, actor: User, version: int, changes: Mapping[str, Any], reason: str = ""
) -> Evidence:
    """Its title, description, moment or limits are corrected; what it holds stays. Raises EditConflict.

    Other limits give other spans: the file is read again for that, and Refused if it was changed.
    """
    evidence = Evidence.objects.select_related("anomaly").get(pk=evidence_id)
    cleaned = _clean_description(evidence, actor, changes)
    moved = any(cleaned.get(name, getattr(evidence, name)) != getattr(evidence, name) for name in LIMITS)
    samples = read_samples(evidence) if moved else []
    with transaction.atomic():
        evidence = _lock(evidence_id)
        cleaned = _clean_description(evidence, actor, changes)
        check_version(evidence, seen=version, changes=cleaned)
        changed = {name: value for name, value in cleaned.items() if getattr(evidence, name) != value}
        if changed:
            change_record(evidence, changed, actor=actor, action="evidence.describe", reason=reason)
        if changed.keys() & set(LIMITS):
            write_series(evidence, samples or read_samples(evidence))
    return evidence


def _clean_description(evidence: Evidence, actor: User, changes: Mapping[str, Any]) -> dict[str, Any]:
    begin_move(evidence, EVIDENCE, "describe", actor)
    cleaned = clean_values(evidence, changes, [name for name in DESCRIBED if name in COMMON + OF_KIND[evidence.kind]])
    if cleaned.get("taken_at"):
        need_past("taken_at", cleaned["taken_at"])
    find_spans([], **{name: cleaned.get(name, getattr(evidence, name)) for name in LIMITS})  # limits mustn't cross
    return cleaned


def open_evidence(*, evidence_id: int, actor: User) -> tuple[Evidence, BinaryIO]:
    """Return the evidence and its file, checked against its hash; that the actor opened it is on record.

    Nobody is given a file without that record.
    """
    evidence = Evidence.objects.get(pk=evidence_id)
    begin_move(evidence, EVIDENCE, "open", actor)
    if not evidence.sha256:
        raise BadInput("There is no file with this evidence.", code="no_file")
    file = open_file(evidence)
    try:
        with transaction.atomic():
            opening = EvidenceOpening(evidence=evidence, person=actor, opened_at=now())
            create_record(opening, actor=actor, action="evidence.open")
    except BaseException:
        file.close()
        raise
    return evidence, file


@transaction.atomic
def withdraw_evidence(*, evidence_id: int, actor: User, reason: str) -> Evidence:
    """It doesn't count any more, and stays on record. Refused while something rests on it alone."""
    evidence = _lock(evidence_id)
    move = begin_move(evidence, EVIDENCE, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    gaps = find_what_rests_on(evidence)
    if gaps:
        raise Missing("This can't be withdrawn yet: something rests on it alone.", gaps, code="rested_on")
    changes = {"state": move.target, "state_reason": reason}
    change_record(evidence, changes, actor=actor, action="evidence.withdraw", reason=reason)
    return evidence


def _lock(evidence_id: int) -> Evidence:
    """Lock the anomaly first: nothing may come to rest on the evidence meanwhile."""
    anomaly = Anomaly.objects.lock(Evidence.objects.values_list("anomaly_id", flat=True).get(pk=evidence_id))
    evidence = Evidence.objects.lock(evidence_id)
    evidence.anomaly = anomaly
    return evidence
