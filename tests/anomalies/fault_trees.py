"""Investigations by a fault tree for tests, made with the services.

The tree is like that of tests/faulttree/people.py: no-flow = both or valve, both = pump-1 and pump-2, with the
probabilities 0.01, 0.1 and 0.2 of valve, pump-1 and pump-2.
"""

from __future__ import annotations

from typing import Any

from anomalies.models import Anomaly, Bearing, Evidence, Inspection, Investigation
from anomalies.services.bearings import weigh_evidence
from anomalies.services.dispositions import judge_events
from anomalies.services.inspections import plan_inspection
from anomalies.services.investigations import conclude_investigation, open_investigation
from faulttree.models import TreeRevision
from faulttree.services.trees import revise_tree
from tests.anomalies.files import make_evidence
from tests.anomalies.people import board_member, make_open, safety_engineer
from tests.faulttree.people import PUMPS, make_revision

EVENTS = ("valve", "pump-1", "pump-2")
FLOW = PUMPS.replace('"pumps"', '"suit-flow"')
WITHOUT_PUMP_2 = FLOW.replace('<basic-event name="pump-2"/>', "").replace(
    '<define-basic-event name="pump-2"><float value="0.2"/></define-basic-event>', ""
)
"""The same tree after an edit: one event is gone."""


def make_origin(source: str = FLOW) -> TreeRevision:
    """The first revision of a tree; the same one when asked again."""
    name = source.partition('fault-tree name="')[2].partition('"')[0]
    found = TreeRevision.objects.filter(tree__name=name, number=1).first()
    return found or make_revision(safety_engineer(), source)


def make_investigation(anomaly: Anomaly | None = None, source: str = FLOW, **changes: Any) -> Investigation:
    """An investigation under way, of which nothing is known but that nothing flows."""
    anomaly = anomaly or make_open()
    given = {"revision_id": make_origin(source).pk, "top": "no-flow"}
    return open_investigation(anomaly_id=anomaly.pk, actor=board_member(), **given | changes).reread()


def judge(investigation: Investigation, disposition: str, *events: str, **changes: Any) -> Investigation:
    """The events have the disposition, on a new piece of evidence."""
    given: dict[str, Any] = {"version": investigation.reread().version, "rationale": "By test."}
    if "evidence_ids" not in changes:
        given["evidence_ids"] = [make_evidence(investigation.anomaly).pk]
    return judge_events(
        investigation_id=investigation.pk,
        actor=changes.pop("actor", None) or board_member(),
        events=events,
        disposition=disposition,
        **given | changes,
    )


def judge_all(investigation: Investigation) -> Investigation:
    """It was the valve, and nothing else."""
    judge(investigation, "ruled_out", "pump-1", "pump-2")
    return judge(investigation, "confirmed", "valve")


def conclude(investigation: Investigation, **changes: Any) -> Investigation:
    """What the tree showed is on record."""
    given = {"version": investigation.reread().version, "conclusion": "A stuck valve, no pump."}
    return conclude_investigation(investigation_id=investigation.pk, actor=board_member(), **given | changes)


def enter(investigation: Investigation, event: str, says: str = "occurred", **changes: Any) -> Bearing:
    """A new piece of evidence says something of the event."""
    given: dict[str, Any] = {"justification": "Seen on the bench."}
    if "evidence_id" not in changes:
        given["evidence_id"] = make_evidence(investigation.anomaly).pk
    return weigh_evidence(
        investigation_id=investigation.pk, actor=board_member(), event=event, says=says, **given | changes
    )


def plan(investigation: Investigation, event: str = "valve", **changes: Any) -> Inspection:
    """A possible inspection, with a sensitivity of 0.9 and a false-alarm rate of 0.1."""
    given = {"title": f"Look at {event}", "sensitivity": 0.9, "false_alarm": 0.1}
    return plan_inspection(investigation_id=investigation.pk, actor=board_member(), event=event, **given | changes)


def revise(investigation: Investigation, source: str = WITHOUT_PUMP_2) -> TreeRevision:
    """A newer revision of the investigation's own tree."""
    return revise_tree(
        tree_id=investigation.tree_id, actor=safety_engineer(), source=source.encode(), file_name="pumps.xml"
    )


def held(investigation: Investigation) -> list[int]:
    """Keys of the evidence that the anomaly holds, in order."""
    return list(Evidence.objects.held().filter(anomaly=investigation.anomaly_id).values_list("pk", flat=True))
