"""Records for tests in the browser, and the people who work on them."""

from __future__ import annotations

LOAD = """
import sys, django; django.setup()
from datetime import timedelta
from django.utils import timezone
from tests.anomalies import people
from anomalies.services.ties import link_anomalies
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
from anomalies.services.revision_steps import change_revision_step, insert_revision_notice
from tests.anomalies import procedures
released = procedures.make_released(None, "Push until the collar clicks.", "Pull by hand to check the latch.")
draft = procedures.make_drafted(released.procedure, "Report it.")
step, writer = draft.read_steps()[0].key, procedures.writer()
given = {"revision_id": draft.pk, "actor": writer}
draft = change_revision_step(**given, version=draft.version, key=step, changes={"text": "Push until it clicks twice."})
insert_revision_notice(**given, version=draft.version, step_key=step, kind="warning", text="It bursts. " * 12)
procedures.make_drafted(procedures.make_procedure(kind="card", title="Coolant leak"), "Close the valve.")
for person in (people.recorder(), people.board_member(), people.safety_engineer(), people.viewer(), writer):
    person.set_password(sys.argv[1]); person.save()
"""
