"""Records for tests in the browser, and the people who work on them."""

from __future__ import annotations

LOAD = """
import sys, django; django.setup()
from datetime import timedelta
from django.utils import timezone
from tests.anomalies import people
from anomalies.services.ties import link_anomalies
for person in (people.recorder(), people.board_member(), people.safety_engineer(), people.viewer()):
    person.set_password(sys.argv[1]); person.save()
hose = people.make_item("B-17")
people.make_item("S-2", "SUIT-4")
first = people.make_open(
    title="Umbilical B wept coolant at the vehicle-side quick disconnect " * 3,
    description="A bead of clear liquid.\\n\\n" * 6, place="Airlock", hardware_ids=[hose.pk],
)
people.make_constraint(first)
second = people.make_reported(title="Wet spot", occurred_at=people.SEEN_AT - timedelta(days=1))
link_anomalies(source_id=first.pk, target_id=second.pk, kind="recurrence", actor=people.board_member())
people.make_draft(title="Sensor reads high")
"""
