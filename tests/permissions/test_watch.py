"""What the other tests rely on: a write is noticed, and undone."""

from __future__ import annotations

import pytest

from anomalies.models import LedgerEntry
from tests.anomalies.people import make_reported
from tests.permissions.people import SIGNED_IN, cast_people, read_who
from tests.permissions.tables import read_doors, read_rules
from tests.permissions.watch import undone, writes

pytestmark = pytest.mark.django_db


def test_a_write_is_noticed_and_undone():
    make_reported()
    before = list(LedgerEntry.objects.values_list())
    with undone(), writes() as found:
        make_reported()
    assert any("anomalies_ledgerentry" in sql for sql in found)
    assert list(LedgerEntry.objects.values_list()) == before


def test_reading_is_no_write():
    with writes() as found:
        list(LedgerEntry.objects.all())
    assert found == []


def test_the_people_hold_the_roles_they_stand_for():
    people = cast_people()
    assert {name for name in SIGNED_IN if people[name].groups.filter(name="verifier").exists()} == {
        "verifier",
        "who owns it",
        "who wrote it",
    }


def test_a_cell_says_who():
    assert read_who("recorder") == {"recorder", "who made it"}
    assert read_who("verifier; never who wrote it") == {"verifier", "who owns it"}
    assert read_who("nobody") == set()
    with pytest.raises(ValueError, match="flight surgeon"):
        read_who("recorder, flight surgeon")


def test_rows_are_read():
    (get, post) = read_doors("GET POST /trees/ | tree.import | every role  # a note")
    assert (get.method, post.method, get.address, get.rule) == ("GET", "POST", "/trees/", "tree.import")
    assert "viewer" in get.finders
    assert "viewer" not in get.goers
    with pytest.raises(ValueError, match="two rows"):
        read_rules("cause.edit | recorder\ncause.edit @open @open | recorder")
