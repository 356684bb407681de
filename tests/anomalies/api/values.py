"""What the fields of a call can hold so that the call may go well: keys of real records, the version that was read."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User

from anomalies import models
from anomalies.clock import now
from anomalies.people import find_people_who_may
from anomalies.services.baselines import list_ready
from faulttree.facade import read_parts
from faulttree.models import Tree, TreeRevision
from tests.anomalies.api.world import Target, World
from tests.anomalies.files import PNG, SERIES
from tests.anomalies.procedures import PASSWORD
from tests.faulttree.people import PUMPS

KEYS: dict[str, Any] = {  # a field -> rows whose keys it takes
    "activity": models.Activity,
    "activity_id": models.Activity,
    "before": models.Activity,
    "effective_from_id": models.Activity,
    "changed_action_id": models.CorrectiveAction,
    "changed_requirement_id": models.Requirement,
    "changed_revision_id": models.ProcedureRevision,
    "hardware_ids": models.HardwareItem,
    "hardware_type": models.HardwareType,
    "hardware_type_id": models.HardwareType,
    "installed_in": models.HardwareItem,
    "installed_item_id": models.HardwareItem,
    "item": models.HardwareItem,
    "item_id": models.HardwareItem,
    "lead": User,
    "needed_before_id": models.Activity,
    "owner": User,
    "parent": models.HardwareItem,
    "person_id": User,
    "procedure_id": models.Procedure,
    "removed_item_id": models.HardwareItem,
    "tree": Tree,
    "tree_id": Tree,
    "type": models.HardwareType,
    "type_id": models.HardwareType,
}
OF_ONE_ANOMALY: dict[str, Any] = {
    "cause_ids": models.Cause,
    "evidence_id": models.Evidence,
    "evidence_ids": models.Evidence,
    "finding_id": models.Finding,
    "finding_ids": models.Finding,
    "parent_id": models.Cause,
}
NEEDS = {
    "lead_id": "change_anomaly",
    "owner_id": "add_correctiveaction",
    "doer_id": "do_correctiveaction",
    "chair_id": "change_boardmeeting",
    "person_ids": "view_anomaly",
}
OF_THE_RECORD = ("version", "wording")


def find_values(world: World, path: str, name: str, target: Target | None) -> list[Any]:
    """Return what a field of this name can hold in a call of this path; [] where any value will do."""
    record = target.record if target else None
    if name in OF_THE_RECORD and hasattr(record, name):
        return [getattr(record, name)]
    if name == "person_id" and path.endswith("board/unseat/"):
        return sorted(record.seated) if record else []
    if name == "person_id" and path.endswith("board/"):
        return _keys(find_people_who_may("change_anomaly"))
    if name == "lead_id" and path.startswith("activities/"):
        return _keys(find_people_who_may("change_activity"))
    if name in NEEDS:
        return _keys(find_people_who_may(NEEDS[name]))
    if name == "parent_id" and path.startswith("hardware/"):
        return _keys(row for row in world.rows(models.HardwareItem) if row != record)
    if name == "parent" and path.startswith("procedures/"):
        return [""]
    if name in OF_ONE_ANOMALY:
        anomaly = find_anomaly(record)
        return _keys(row for row in world.rows(OF_ONE_ANOMALY[name]) if row.anomaly_id == anomaly and row != record)
    if name in ("run", "focus") and isinstance(record, TreeRevision):
        return _keys(record.runs.all()) if name == "run" else list(record.tops)
    if isinstance(record, models.Investigation) and name in ("event", "events"):
        names = list(read_parts(record.revision, record.top).by_name.keys() - {record.top})
        return sorted(names) if name == "event" else [[each] for each in sorted(names)]
    if isinstance(record, models.CorrectiveAction) and name in ("event", "other_id"):
        return _of_action(record, name)
    if isinstance(record, models.Investigation) and name == "action_ids":
        return _keys(list_ready(record))
    if name in ("top", "revision_id") and path.endswith("/investigation/"):
        revision = world.rows(TreeRevision)[0]  # one and the same, as the two go together
        return list(revision.tops) if name == "top" else [revision.pk]
    if name in KEYS:
        return _keys(world.rows(KEYS[name]))
    if name in ("anomaly", "target"):
        return [row.number for row in world.rows(models.Anomaly) if row.number]
    if name == "anomaly_id":
        return [row.pk for row in world.rows(models.Anomaly) if row.number]
    if name == "file":
        return [PUMPS.encode()] if path.startswith("trees/") else [PNG, SERIES]
    return _plain(name)


def find_anomaly(record: Any) -> int | None:
    """Return the key of the anomaly that a record is, or is a part of."""
    if isinstance(record, models.Anomaly):
        return record.pk
    of_tree = isinstance(record, (models.Inspection, models.Bearing))
    return getattr(record.investigation if of_tree else record, "anomaly_id", None)


def _of_action(action: models.CorrectiveAction, name: str) -> list[Any]:
    """Return the events of the tree of its anomaly, or the other actions."""
    if name == "other_id":
        return _keys(action.anomaly.actions.exclude(pk=action.pk))
    found = getattr(action.anomaly, "investigation", None)
    return [part.name for part in read_parts(found.revision, found.top).events] if found else []


def _plain(name: str) -> list[Any]:
    past, soon = now() - timedelta(hours=2), now() + timedelta(days=9)
    if name in ("at", "done_at", "occurred_at", "taken_at"):
        return [past.isoformat()]
    return {
        "address": ["https://depot.example/log"],
        "after": ["", None],
        "expression": [0.25, "nowhere", {"exponential": [1e-6, 8.0]}],
        "due_on": [soon.date().isoformat()],
        "false_alarm": [0.05],
        "hours": [8.0],
        "mission_time": [8.0],
        "overrides": [{"mission_time": 8.0}, {"events": {"nowhere": False}}],
        "page": [1],
        "password": [*[PASSWORD] * 5, "another password"],
        "planned_for": [soon.isoformat()],
        "planned_end": [(soon + timedelta(hours=6)).isoformat()],
        "planned_start": [soon.isoformat()],
        "top": [None],
        "words": ["tether", "umbilical"],
    }.get(name, [])


def _keys(rows: Any) -> list[int]:
    return [row.pk for row in rows]
