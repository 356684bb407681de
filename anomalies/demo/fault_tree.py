"""The demonstration's investigation by fault tree: the weeping quick disconnect, half worked through."""

from __future__ import annotations

from typing import Any

from anomalies.demo.stage import Stage
from anomalies.models import Anomaly, Evidence, Finding, Investigation
from anomalies.services.bearings import weigh_evidence
from anomalies.services.dispositions import judge_events
from anomalies.services.inspections import plan_inspection
from anomalies.services.investigations import open_investigation
from faulttree.facade import find_newest, list_originals

TREE = "umbilical-weep"
SORTIE_HOURS = 8.0
INSPECTIONS: tuple[dict[str, Any], ...] = (
    {
        "event": "seal-cold-set",
        "title": "Measure the lip of the seal cold and warm",
        "sensitivity": 0.9,
        "false_alarm": 0.05,
        "basis": "Twelve seals of known history, measured by two people (invented).",
        "cost": 2.0,
        "hours": 3.0,
    },
    {
        "event": "seal-debris",
        "title": "Look at the sealing face under the microscope",
        "sensitivity": 0.85,
        "false_alarm": 0.1,
        "basis": "Agreed by the bench crew (invented).",
        "cost": 1.0,
        "hours": 1.5,
    },
    {
        "event": "collar-short",
        "title": "Turn the ring on the panel with a short collar",
        "sensitivity": 0.7,
        "false_alarm": 0.2,
        "basis": "Agreed by two suit engineers (invented).",
        "cost": 4.0,
        "hours": 2.0,
        "needs_outing": True,
    },
)


def open_tree(stage: Stage, anomaly: Anomaly) -> Investigation | None:
    """Open the investigation on the tree of the demonstration; None where that tree was taken away."""
    tree = list_originals().filter(name=TREE).first()
    revision = find_newest(tree.pk) if tree else None
    if revision is None:
        return None
    return open_investigation(
        anomaly_id=anomaly.pk,
        actor=stage.people["engineer"],
        revision_id=revision.pk,
        top=revision.tops[0],
        mission_time=SORTIE_HOURS,
    )


def work_tree(stage: Stage, investigation: Investigation, teardown: Evidence, scored: Finding) -> None:
    """Rule the hose out, weigh the tear-down, list what could be looked at; the rest is open."""
    lead, key = stage.people["hollin"], investigation.pk
    judge_events(
        investigation_id=key,
        actor=lead,
        version=investigation.reread().version,
        events=["hose-leaks", "crimp-loose"],
        disposition="ruled_out",
        rationale="Hose and crimp of B07 held 200 kPa for an hour.",
        evidence_ids=[teardown.pk],
    )
    weigh_evidence(
        investigation_id=key,
        actor=lead,
        event="poppet-not-seated",
        says="test",
        sensitivity=0.95,
        false_alarm=0.02,
        found=False,
        justification="Bubble check of the poppet on the bench: no bubble in ten minutes.",
        evidence_id=teardown.pk,
    )
    weigh_evidence(
        investigation_id=key,
        actor=stage.people["anselm"],
        event="seal-scored",
        says="ratio",
        ratio=25.0,
        justification="A score that fits the edge of the ring is seen on about one seal in 25 that never leaked.",
        finding_id=scored.pk,
    )
    for each in INSPECTIONS:
        plan_inspection(investigation_id=key, actor=stage.people["engineer"], **each)
