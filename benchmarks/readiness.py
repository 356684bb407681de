"""Readiness and brief of one large activity:  python -m benchmarks.readiness [--anomalies 500 --actions 1000 …]

On SQLite and on a PostgreSQL of its own: queries and time of the list, the page of readiness, the sweep that notes the
list, the brief as a page and the brief as PDF. All anomalies concern hardware that the activity uses, all actions are
needed before it, all procedures are used in it.

The records are written in bulk, past the services and without entries in the ledger: only reading is measured.
"""

from __future__ import annotations

import argparse
import random
import time
from datetime import timedelta
from typing import Any

from benchmarks.databases import make_tables, measure_all, run_on_both

SEED = 20310406
STEPS = 8


def main() -> None:
    """Measure on both databases, each in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--anomalies", type=int, default=500)
    parser.add_argument("--actions", type=int, default=1_000)
    parser.add_argument("--procedures", type=int, default=40)
    parser.add_argument("--here", action="store_true", help="measure on DATABASE_URL, in this process")
    wanted = parser.parse_args()
    counts = (wanted.anomalies, wanted.actions, wanted.procedures)
    if wanted.here:
        measure(*counts)
    else:
        names = ("--anomalies", "--actions", "--procedures")
        run_on_both(
            "benchmarks.readiness", *(word for pair in zip(names, map(str, counts), strict=True) for word in pair)
        )


def measure(anomalies: int, actions: int, procedures: int) -> None:
    """Fill the database and print a line per piece of work."""
    make_tables()
    from django.test import Client

    from anomalies.reads.brief.build import read_brief
    from anomalies.reads.brief.paper import print_brief
    from anomalies.reads.readiness.checklist import read_checklist
    from anomalies.services.readiness_notes import watch_reviews
    from tests.anomalies.people import safety_engineer

    began = time.perf_counter()
    activity = fill(anomalies, actions, procedures)
    print(
        f"{anomalies:,} anomalies, {actions:,} actions, {procedures} procedures written in "
        f"{time.perf_counter() - began:.0f} s; {len(read_checklist(activity).items):,} items on the list"
    )
    client = Client()
    client.force_login(safety_engineer())
    path = f"/readiness/{activity.pk}/"
    brief = read_brief(activity)
    measure_all(
        {
            "list": lambda: str(read_checklist(activity).hash).encode(),
            "page of readiness": lambda: client.get(path),
            "list of all readiness": lambda: client.get("/readiness/"),
            "sweep": lambda: (watch_reviews(), b"")[1],
            "brief": lambda: (read_brief(activity), b"")[1],
            "page of the brief": lambda: client.get(f"{path}brief/"),
            "brief in the API": lambda: client.get(f"/api/v1/activities/{activity.pk}/brief/"),
        }
    )
    measure_all({"brief as PDF, once it's read": lambda: print_brief(brief)}, rounds=1)


def fill(anomalies: int, actions: int, procedures: int) -> Any:
    """Write it all; returns the activity."""
    from anomalies.models import Anomaly
    from tests.anomalies.people import SEEN_AT, make_item, make_type
    from tests.anomalies.readiness import make_review

    item = make_item("S1", "SUIT-1")
    before = _hold(_plan("Sortie 6", SEEN_AT - timedelta(days=30)))
    activity = _plan("Sortie 7", SEEN_AT + timedelta(days=9000))
    _tie(activity, item)
    make_review(activity, "Suits", "Safety", "Airlock")
    pick = random.Random(SEED)  # no secret
    rows = _write_anomalies(anomalies, before, item, pick)
    _write_causes(rows)
    _write_actions(actions, rows, activity, pick)
    _write_procedures(procedures, before, activity, rows)
    assert Anomaly.objects.count() == anomalies
    assert make_type("SUIT-1").pk == item.type_id
    return activity.reread()


def _plan(title: str, start: Any) -> Any:
    from tests.anomalies.people import make_activity

    return make_activity(title=title, planned_start=start, planned_end=start + timedelta(hours=7))


def _hold(activity: Any) -> Any:
    from anomalies.services.activities import complete_activity, start_activity
    from tests.anomalies.people import activity_lead

    start_activity(activity_id=activity.pk, actor=activity_lead())
    return complete_activity(activity_id=activity.pk, actor=activity_lead())


def _tie(activity: Any, item: Any) -> None:
    from anomalies.services.activities import add_activity_hardware, add_crew
    from tests.anomalies.people import activity_lead, recorder, viewer

    lead = activity_lead()
    add_activity_hardware(activity_id=activity.pk, actor=lead, item_id=item.pk)
    for person, role in ((recorder(), "EV1"), (viewer(), "EV2")):
        add_crew(activity_id=activity.pk, actor=lead, person_id=person.pk, role=role)


def _write_anomalies(count: int, during: Any, item: Any, pick: random.Random) -> list[Any]:
    from anomalies.models import Anomaly, AnomalyHardware
    from benchmarks.records import invent
    from tests.anomalies.people import board_member

    rows = [row for row in invent(count * 2, board_member()) if row.state in ("open", "closed")][:count]
    for row in rows:
        row.activity = during if pick.random() < 0.2 else None
        if row.state == "closed":
            row.closed_at = during.actual_end + timedelta(days=1)
    made = Anomaly._base_manager.bulk_create(rows)
    AnomalyHardware._base_manager.bulk_create(AnomalyHardware(anomaly=row, item=item, version=1) for row in made)
    return made


def _write_causes(rows: list[Any]) -> None:
    from anomalies.models import Cause, Concurrence, Finding

    findings = Finding._base_manager.bulk_create(
        Finding(
            anomaly=row,
            position=1,
            kind="finding",
            statement="The seal was cold-set.",
            author=row.lead,
            proposed_at=row.occurred_at,
            state="adopted",
            version=1,
        )
        for row in rows
    )
    Concurrence._base_manager.bulk_create(
        Concurrence(
            finding=row,
            member=row.author,
            stand="dissents",
            text="Scored.",
            wording=1,
            stated_at=row.proposed_at,
            version=1,
        )
        for row in findings[::10]
    )
    states = ("confirmed", "credible", "ruled_out")
    Cause._base_manager.bulk_create(
        Cause(
            anomaly=row,
            position=place,
            kind="proximate",
            statement=f"Cause {place}.",
            rationale="Seen.",
            author=row.lead,
            judged_by=row.lead,
            judged_at=row.occurred_at,
            state=state,
            version=1,
        )
        for row in rows
        for place, state in enumerate(states, 1)
    )


def _write_actions(count: int, rows: list[Any], activity: Any, pick: random.Random) -> None:
    from anomalies.models import CorrectiveAction

    made = []
    for place in range(count):
        anomaly = rows[place % len(rows)]
        state = pick.choices(("committed", "done", "verified"), (1, 1, 3))[0]
        row = CorrectiveAction(
            number=f"CA-2031-{place:04}",
            anomaly=anomaly,
            kind=pick.choice(("training", "kit", "procedure")),
            title=f"Action {place}",
            acceptance_criteria="It holds.",
            needed_before=activity,
            owner=anomaly.lead,
            due_on=activity.planned_start.date(),
            proposed_by=anomaly.lead,
            proposed_at=anomaly.occurred_at,
            state=state,
            version=1,
        )
        if state != "committed":
            row.done_at, row.doer, row.done_note = anomaly.occurred_at, anomaly.lead, "Done."
        if state == "verified":
            row.verified_at, row.verifier, row.verification_note = anomaly.occurred_at, _verifier(), "Watched."
        made.append(row)
    CorrectiveAction._base_manager.bulk_create(made)


def _verifier() -> Any:
    from tests.anomalies.people import make_person

    return make_person("verifier")


def _write_procedures(count: int, before: Any, activity: Any, anomalies: list[Any]) -> None:
    from anomalies.models import Procedure, ProcedureRevision, ProcedureUse
    from tests.anomalies.people import board_member

    author, approver = board_member(), _verifier()
    rows = Procedure._base_manager.bulk_create(
        Procedure(number=f"P-{place:03}", title=f"Procedure {place}", kind="operation", version=1)
        for place in range(count)
    )
    first: dict[int, Any] = {}
    for number in (1, 2):
        made = ProcedureRevision._base_manager.bulk_create(
            ProcedureRevision(
                procedure=row,
                number=number,
                base=first.get(row.pk),
                summary=f"Revision {number}.",
                anomaly=anomalies[place] if number == 2 else None,
                steps=_invent_steps(number),
                author=author,
                approver=approver,
                approved_at=before.planned_start,
                released_at=before.planned_start,
                effective_from=before if number == 1 else activity,
                state="superseded" if number == 1 else "released",
                version=1,
            )
            for place, row in enumerate(rows)
        )
        first = {row.procedure_id: row for row in made}
    ProcedureUse._base_manager.bulk_create(ProcedureUse(activity=activity, procedure=row, version=1) for row in rows)


def _invent_steps(number: int) -> list[dict[str, Any]]:
    from anomalies.steps import Step, StepKind, store_steps

    return store_steps(
        tuple(
            Step(f"s{place}", "", StepKind.DO, f"Turn valve {place} to {number if place % 3 == 0 else 0}.")
            for place in range(STEPS)
        )
    )


if __name__ == "__main__":
    main()
