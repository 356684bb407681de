"""Tampering is found, and the first bad entry is named."""

from __future__ import annotations

import hashlib
import io
import json

import pytest
from django.core.management import CommandError, call_command
from django.db import models

from anomalies.models import HardwareType, LedgerEntry
from anomalies.models.base import record_models
from anomalies.services.evidence import withdraw_evidence
from anomalies.services.evidence_files import path_of
from anomalies.services.ledger_proof import prove_ledger
from tests.anomalies.files import PNG, SERIES, make_evidence, make_photograph, upload
from tests.anomalies.people import make_constraint, make_item, make_open, make_reported, make_type, recorder
from tests.anomalies.tampering import LEDGER, execute, without_guards

pytestmark = pytest.mark.django_db


def verify(*arguments):
    """The exit code and what was printed."""
    out = io.StringIO()
    try:
        call_command("verify_ledger", *arguments, stdout=out)
    except SystemExit as left:
        return left.code, out.getvalue()
    return 0, out.getvalue()


@pytest.fixture
def entries():
    make_constraint()
    make_item()
    return LedgerEntry.objects.count()


def test_an_empty_ledger_is_whole():
    assert verify() == (0, "The ledger is whole: 0 entries, 0 records as recorded.\n")


def test_what_services_wrote_is_whole(entries):
    code, said = verify()
    records = sum(model._base_manager.count() for model in record_models())
    assert code == 0
    assert f"{entries} entries, {records} records as recorded" in said
    assert entries > records > 3


def test_a_record_edited_behind_the_service_is_found():
    anomaly = make_open()
    last = LedgerEntry.objects.of("anomaly", anomaly.pk).last().sequence
    execute("UPDATE anomalies_anomaly SET severity = 4, title = 'All is well' WHERE id = %s", anomaly.pk)
    code, said = verify()
    assert code == 3
    assert said == f"The anomaly {anomaly.pk} isn't what entry {last} recorded; different: severity, title.\n"


def test_a_record_made_behind_the_service_is_found():
    execute("INSERT INTO anomalies_hardwaretype (version, part_number, name) VALUES (1, 'X', 'X')")
    code, said = verify()
    assert (code, "ledger knows nothing of it" in said) == (3, True)


def test_a_record_deleted_behind_the_service_is_found():
    kind = make_type()
    execute("DELETE FROM anomalies_hardwaretype WHERE id = %s", kind.pk)
    assert verify() == (3, f"The hardware_type {kind.pk}, last recorded by entry 1, is gone.\n")


def test_an_edited_entry_is_found(entries):
    with without_guards() as tamper:
        tamper(f"UPDATE {LEDGER} SET actor_name = 'somebody' WHERE sequence = 2")
    code, said = verify()
    assert (code, said) == (2, "First bad entry: Entry 2 was changed: its content doesn't give its hash.\n")


def test_an_edited_entry_with_a_hash_made_to_fit_is_found(entries):
    with without_guards() as tamper:
        tamper(f"UPDATE {LEDGER} SET actor_name = 'somebody' WHERE sequence = 2")
        tamper(f"UPDATE {LEDGER} SET hash = %s WHERE sequence = 2", LedgerEntry.objects.get(pk=2).compute_hash())
    code, said = verify()
    assert (code, "Entry 3 doesn't follow entry 2" in said) == (2, True)


@pytest.mark.parametrize("which", ["first", "middle", "last"])
def test_a_removed_entry_is_found(entries, which):
    gone = {"first": 1, "middle": 3, "last": entries}[which]
    with without_guards() as tamper:
        tamper(f"DELETE FROM {LEDGER} WHERE sequence = %s", gone)
    proof = prove_ledger()
    assert proof.chain_fault is not None
    assert proof.chain_fault.sequence == gone
    assert verify()[0] == 2


def test_an_emptied_ledger_is_found(entries):
    with without_guards() as tamper:
        tamper(f"DELETE FROM {LEDGER}")
    code, said = verify()
    assert code == 2
    assert f"The ledger ends with entry 0, but its head says that it ends with entry {entries}." in said
    assert "the ledger knows nothing of it" in said


def test_two_entries_in_each_others_place_are_found(entries):
    with without_guards() as tamper:
        for old, new in ((2, 1000), (3, 2), (1000, 3)):
            tamper(f"UPDATE {LEDGER} SET sequence = %s WHERE sequence = %s", new, old)
    proof = prove_ledger()
    assert proof.chain_fault is not None
    assert proof.chain_fault.sequence == 2


def test_a_chain_rewritten_whole_is_found_by_an_anchor(entries):
    anchor = verify()[1].split("--anchor ")[1].strip()
    assert verify("--anchor", anchor)[0] == 0
    with without_guards() as tamper:
        tamper(f"UPDATE {LEDGER} SET actor_name = 'somebody' WHERE sequence = 2")
        rewrite_chain(tamper)
    assert verify()[0] == 0
    code, said = verify("--anchor", anchor)
    assert (code, f"Entry {entries} isn't the one that was anchored" in said) == (2, True)


def rewrite_chain(tamper):
    previous = "0" * 64
    for sequence in LedgerEntry.objects.values_list("sequence", flat=True):
        tamper(f"UPDATE {LEDGER} SET previous_hash = %s WHERE sequence = %s", previous, sequence)
        previous = LedgerEntry.objects.get(pk=sequence).compute_hash()
        tamper(f"UPDATE {LEDGER} SET hash = %s WHERE sequence = %s", previous, sequence)
    tamper("UPDATE anomalies_ledgerhead SET hash = %s", previous)


def test_an_anchor_beyond_the_end_is_found(entries):
    code, said = verify("--anchor", f"{entries + 5}:{'a' * 64}")
    assert (code, f"Entry {entries + 5}, which is anchored, is missing" in said) == (2, True)


def test_what_is_no_anchor_is_refused():
    with pytest.raises(CommandError, match="isn't an anchor"):
        call_command("verify_ledger", "--anchor", "yes")


def test_json_holds_every_fault():
    for number in range(25):
        execute("INSERT INTO anomalies_hardwaretype (version, part_number, name) VALUES (1, %s, 'X')", f"P{number}")
    code, said = verify("--json")
    answer = json.loads(said)
    assert (code, answer["whole"], len(answer["record_faults"])) == (3, False, 25)
    assert "5 more records differ" in verify()[1]


def test_a_column_added_later_changes_no_recorded_content(monkeypatch):
    kind = make_type()
    before = kind.content_hash()
    monkeypatch.setattr(HardwareType._meta, "concrete_fields", [*kind._meta.concrete_fields, make_blank_field()])
    kind.colour = ""
    assert kind.content_hash() == before
    kind.colour = "red"
    assert kind.content_hash() != before


def make_blank_field():
    field = models.CharField(max_length=5, blank=True)
    field.set_attributes_from_name("colour")
    return field


def test_both_a_bad_entry_and_bad_records_are_told():
    anomaly = make_reported()
    execute("UPDATE anomalies_anomaly SET title = 'All is well' WHERE id = %s", anomaly.pk)
    with without_guards() as tamper:
        tamper(f"UPDATE {LEDGER} SET reason = 'x' WHERE sequence = 1")
    code, said = verify()
    assert code == 2
    assert "First bad entry: Entry 1" in said
    assert "different: title" in said


@pytest.fixture
def photographs(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")
    anomaly = make_open()
    return [make_photograph(anomaly, PNG + bytes([number])) for number in range(3)]


def stored(evidence):
    path = path_of(evidence.sha256)
    path.chmod(0o600)
    return path


def test_files_of_evidence_are_counted_and_whole(photographs):
    code, said = verify()
    assert code == 0
    assert "3 files of evidence unchanged" in said


def test_the_first_file_with_a_changed_byte_is_named(photographs):
    for evidence in photographs[1:]:
        data = bytearray(stored(evidence).read_bytes())
        data[-1] ^= 1
        stored(evidence).write_bytes(data)
    code, said = verify()
    first, second = said.splitlines()
    name = f"The evidence {photographs[1].pk} ({photographs[1].anomaly.number} E2)"
    assert code == 3
    assert first == f"First bad file: {name}: The stored file isn't the one that was added: its SHA-256 differs."
    assert "E3" in second


def test_a_file_that_is_gone_is_named_also_when_its_evidence_was_withdrawn(photographs):
    withdraw_evidence(evidence_id=photographs[2].pk, actor=recorder(), reason="Another coupling.")
    stored(photographs[2]).unlink()
    code, said = verify("--json")
    answer = json.loads(said)
    assert (code, answer["whole"], answer["files"]) == (3, False, 3)
    assert [(fault["kind"], fault["record_id"]) for fault in answer["file_faults"]] == [("evidence", photographs[2].pk)]
    assert "First bad file" in verify()[1]


def test_a_changed_file_with_the_hash_in_the_row_made_to_fit_is_found(photographs):
    evidence = photographs[0]
    other = PNG + b"another picture"
    sha256 = hashlib.sha256(other).hexdigest()
    path_of(sha256).parent.mkdir(exist_ok=True)
    path_of(sha256).write_bytes(other)
    execute("UPDATE anomalies_evidence SET sha256 = %s WHERE id = %s", sha256, evidence.pk)
    code, said = verify()
    assert code == 3
    assert f"The evidence {evidence.pk} isn't what entry" in said
    assert "different: sha256" in said


def test_a_span_hidden_behind_the_service_is_found(photographs):
    series = {"kind": "telemetry", "title": "Coolant", "unit": "°C", "high": 30.0, "statement": "", "stated_by": ""}
    evidence = make_evidence(photographs[0].anomaly, **series, file=upload(SERIES, "t.csv"))
    assert verify()[0] == 0
    execute("UPDATE anomalies_telemetryseries SET spans = '[]', greatest = 29 WHERE evidence_id = %s", evidence.pk)
    code, said = verify()
    assert code == 3
    assert said.endswith("Its telemetry series isn't what its file gives; different: greatest, spans.\n")
    execute("DELETE FROM anomalies_telemetryseries")
    assert "Its telemetry series is gone." in verify()[1]
