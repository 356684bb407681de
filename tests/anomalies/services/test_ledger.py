"""The ledger: what services write to it, and what the database refuses."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.db import DatabaseError, connection, transaction

from anomalies.models import Anomaly, HardwareType, LedgerEntry, LedgerHead
from anomalies.models.ledger import GENESIS
from anomalies.services.ledger import append_entry, change_record, create_record
from config.kit.canonical import as_plain, hash_canonical, write_canonical
from config.kit.permissions import SYSTEM
from tests.anomalies.people import make_reported, make_type, recorder
from tests.anomalies.tampering import LEDGER, execute

pytestmark = pytest.mark.django_db


def test_a_new_record_is_entered_with_all_it_holds():
    anomaly = make_reported(place="Airlock")
    entry = LedgerEntry.objects.of("anomaly", anomaly.pk).get()
    assert (entry.action, entry.actor, entry.actor_name, entry.version) == (
        "anomaly.report",
        recorder(),
        "recorder",
        1,
    )
    assert json.loads(entry.after) == anomaly.reread().content()
    assert json.loads(entry.before) == dict.fromkeys(anomaly.content())
    assert entry.content_hash == anomaly.reread().content_hash()
    assert abs((entry.at - datetime.now(UTC)).total_seconds()) < 60


def test_entries_are_numbered_and_chained():
    make_reported()
    make_reported()
    entries = list(LedgerEntry.objects.all())
    assert [entry.sequence for entry in entries] == list(range(1, len(entries) + 1))
    assert [entry.previous_hash for entry in entries] == [GENESIS, *(entry.hash for entry in entries[:-1])]
    assert all(entry.hash == entry.compute_hash() for entry in entries)
    head = LedgerHead.objects.get()
    assert (head.sequence, head.hash) == (entries[-1].sequence, entries[-1].hash)


def test_a_change_is_entered_with_what_changed_and_why():
    kind = HardwareType.objects.lock(make_type().pk)
    change_record(kind, {"name": "Umbilical B"}, actor=SYSTEM, action="hardware_type.edit", reason="Renamed.")
    entry = LedgerEntry.objects.of("hardware_type", kind.pk).last()
    assert entry.changes == {"name": ("Umbilical", "Umbilical B"), "version": (1, 2)}
    assert (entry.reason, entry.actor, entry.actor_name) == ("Renamed.", None, "system")


def test_what_is_rolled_back_leaves_no_entry_and_no_gap():
    make_type()
    before = LedgerHead.objects.get().sequence
    with transaction.atomic():
        create_record(HardwareType(part_number="X", name="X"), actor=SYSTEM, action="hardware_type.add")
        transaction.set_rollback(True)
    assert LedgerHead.objects.get().sequence == LedgerEntry.objects.count() == before


def test_nothing_is_entered_outside_a_transaction(monkeypatch):
    with monkeypatch.context() as outside:
        outside.setattr(transaction, "get_connection", lambda: SimpleNamespace(in_atomic_block=False))
        with pytest.raises(transaction.TransactionManagementError):
            append_entry(HardwareType(pk=1, part_number="X", name="X"), {}, actor=SYSTEM, action="x")
    assert not LedgerEntry.objects.exists()


@pytest.mark.parametrize(
    "statement",
    [
        f"UPDATE {LEDGER} SET reason = 'none'",
        f"DELETE FROM {LEDGER} WHERE sequence = 1",
        f"DELETE FROM {LEDGER}",
    ],
)
def test_the_database_refuses_to_change_an_entry(statement):
    make_type()
    kept = list(LedgerEntry.objects.values())
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        execute(statement)
    assert list(LedgerEntry.objects.values()) == kept


def test_the_database_refuses_the_way_round_its_refusal():
    make_type()
    if connection.vendor == "postgresql":
        execute("SET CONSTRAINTS ALL IMMEDIATE")  # what still waits for a check can't be truncated in any case
        around = f"TRUNCATE {LEDGER}"
    else:
        columns = ", ".join(field.column for field in LedgerEntry._meta.concrete_fields)
        changed = columns.replace("reason", "'none'")
        around = f"INSERT OR REPLACE INTO {LEDGER} ({columns}) SELECT {changed} FROM {LEDGER}"
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        execute(around)


def test_code_refuses_too():
    entry = LedgerEntry.objects.of("hardware_type", make_type().pk).get()
    for refused in (entry.save, entry.delete, LedgerEntry.objects.all().delete):
        with pytest.raises(TypeError, match="append-only"):
            refused()
    with pytest.raises(TypeError, match="append-only"):
        LedgerEntry.objects.update(reason="none")


def test_records_are_never_deleted_nor_changed_in_bulk():
    anomaly = make_reported()
    for refused in (anomaly.delete, Anomaly.objects.all().delete):
        with pytest.raises(TypeError, match="never deleted"):
            refused()
    with pytest.raises(TypeError, match="services"):
        Anomaly.objects.update(title="Nothing happened")


def test_equal_values_are_written_alike():
    assert write_canonical({"b": [1, None], "a": "é"}) == '{"a":"é","b":[1,null]}'
    assert hash_canonical({"b": 1, "a": 2}) == hash_canonical({"a": 2, "b": 1})
    east = timezone(timedelta(hours=3))
    assert as_plain({1: (date(2031, 1, 2), Decimal("0.10"))}) == {"1": ["2031-01-02", "0.10"]}
    assert as_plain(datetime(2031, 1, 2, 3, 4, 5, 6, tzinfo=east)) == "2031-01-02T00:04:05.000006Z"
    assert as_plain(datetime(2031, 1, 2, 3, 4, 5, tzinfo=UTC)) == "2031-01-02T03:04:05.000000Z"
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_canonical(float("nan"))


def test_an_empty_value_is_no_content_but_zero_is():
    kind = HardwareType(part_number="", name="X")
    assert kind.content() == {"name": "X", "version": 0}
