"""The history of a record in words."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth.models import User

from anomalies.reads.history import Change, read_history
from anomalies.services.anomalies import edit_anomaly
from anomalies.services.ties import resolve_constraint
from tests.anomalies.people import (
    SEEN_AT,
    board_member,
    make_activity,
    make_constraint,
    make_open,
    make_reported,
    make_type,
    safety_engineer,
)
from tests.anomalies.tampering import LEDGER, without_guards

pytestmark = pytest.mark.django_db


def test_a_history_reads_in_words():
    lead = board_member()
    User.objects.filter(pk=lead.pk).update(first_name="Tobin", last_name="Vale")
    screened = read_history(make_open())[-1]
    assert (screened.who, screened.action) == ("safety-engineer", "anomaly.screen")
    changes = {change.label: (change.before, change.after) for change in screened.changes}
    assert changes["state"] == ("Awaiting screening", "Open")
    assert changes["severity"] == ("—", "2 · Critical")
    assert changes["lead"] == ("—", "Tobin Vale")
    assert "version" not in changes


def test_times_yes_and_lists_read_well():
    activity = make_activity(tasks=["Look", "Listen"])
    first = {change.label: change.after for change in read_history(activity)[0].changes}
    assert (first["tasks"], first["planned start"]) == ("Look, Listen", "2024-03-05 09:30:00 UTC")
    reported = make_reported(activity_id=activity.pk, activity_cut_short=True)
    told = {change.label: change.after for change in read_history(reported)[0].changes}
    assert (told["activity"], told["activity cut short"]) == ("Sortie 7", "yes")


def test_parts_are_told_in_the_order_in_which_all_happened():
    constraint = make_constraint()
    anomaly = constraint.anomaly
    resolve_constraint(constraint_id=constraint.pk, actor=safety_engineer(), resolution="Seals replaced.")
    changes = {"occurred_at": SEEN_AT - timedelta(hours=1)}
    edit_anomaly(anomaly_id=anomaly.pk, actor=board_member(), version=2, changes=changes, reason="By the recording.")
    told = read_history(anomaly, parts=[anomaly.constraints.all()])
    assert [(event.action, event.reason) for event in told] == [
        ("anomaly.report", ""),
        ("anomaly.screen", ""),
        ("constraint.impose", ""),
        ("constraint.resolve", "Seals replaced."),
        ("anomaly.edit", "By the recording."),
    ]
    assert Change("hardware type", "—", str(make_type())) in told[2].changes
    assert len(read_history(anomaly)) == 3


def test_the_number_of_queries_does_not_grow(django_assert_num_queries):
    anomaly = make_open()
    for turn in range(2, 6):
        changes = {"activity_id": make_activity().pk}
        edit_anomaly(anomaly_id=anomaly.pk, actor=board_member(), version=turn, changes=changes)
    with django_assert_num_queries(3):  # entries, people, activities
        assert len(read_history(anomaly)) == 6


def test_a_column_that_is_gone_is_told_as_it_was_recorded():
    kind = make_type()
    with without_guards() as tamper:
        tamper(f"UPDATE {LEDGER} SET before = %s, after = %s", '{"old_name":null}', '{"old_name":"Hose"}')
    (event,) = read_history(kind)
    assert event.changes == (Change("old name", "—", "Hose"),)
