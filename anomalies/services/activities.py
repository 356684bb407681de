"""Writes of activities."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, ActivityHardware, CrewAssignment, HardwareItem
from anomalies.services.checks import begin_move, clean_values, lock_named, need_past, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, create_record
from anomalies.states import ACTIVITY, HardwareState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import allows, require

PLANNED_FIELDS = ("kind", "title", "tasks", "planned_start", "planned_end", "lead_id")
BAD_TASKS = "Give the tasks as a list of lines, none empty, of at most 200 characters each."
BAD_LEAD = "This person can't lead an activity: they need the role of an activity lead."
BAD_ORDER = "The end must come after the start."
WHY = "Say why."


@transaction.atomic
def plan_activity(
    *,
    actor: User,
    kind: str,
    title: str,
    planned_start: datetime,
    planned_end: datetime,
    lead_id: int,
    tasks: Sequence[str] = (),
) -> Activity:
    """The activity is planned."""
    require(actor, "activity.plan")
    given = {
        "kind": kind,
        "title": title,
        "planned_start": planned_start,
        "planned_end": planned_end,
        "lead_id": lead_id,
        "tasks": list(tasks),
    }
    activity = Activity(**clean_values(Activity(), given, PLANNED_FIELDS))
    _check_plan(activity, given)
    create_record(activity, actor=actor, action="activity.plan")
    return activity


@transaction.atomic
def edit_activity(*, activity_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> Activity:
    """The plan is changed; raises EditConflict if the activity changed since `version`."""
    activity = Activity.objects.lock(activity_id)
    changed = edit_fields(activity, ACTIVITY, actor=actor, version=version, changes=changes, allowed=PLANNED_FIELDS)
    plan = Activity(**{name: getattr(activity, name) for name in PLANNED_FIELDS} | changed)
    _check_plan(plan, changed)
    if changed:
        change_record(activity, changed, actor=actor, action="activity.edit")
    return activity


@transaction.atomic
def start_activity(*, activity_id: int, actor: User, at: datetime | None = None) -> Activity:
    """The activity is under way since `at` (now, if not said)."""
    activity = Activity.objects.lock(activity_id)
    move = begin_move(activity, ACTIVITY, "start", actor)
    started_at = need_past("at", at or now())
    changes = {"state": move.target, "actual_start": started_at}
    change_record(activity, changes, actor=actor, action="activity.start")
    return activity


@transaction.atomic
def complete_activity(*, activity_id: int, actor: User, at: datetime | None = None) -> Activity:
    """The activity ended at `at` (now, if not said), as planned."""
    return _finish(activity_id, "complete", actor, at, None)


@transaction.atomic
def end_activity_early(*, activity_id: int, actor: User, reason: str, at: datetime | None = None) -> Activity:
    """The activity was broken off at `at` (now, if not said)."""
    return _finish(activity_id, "end_early", actor, at, reason)


@transaction.atomic
def scrub_activity(*, activity_id: int, actor: User, reason: str) -> Activity:
    """The activity won't take place."""
    activity = Activity.objects.lock(activity_id)
    move = begin_move(activity, ACTIVITY, "scrub", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(activity, changes, actor=actor, action="activity.scrub", reason=reason)
    return activity


@transaction.atomic
def add_crew(*, activity_id: int, person_id: int, role: str, actor: User) -> CrewAssignment:
    """The person has the role in the activity."""
    activity = Activity.objects.lock(activity_id)
    begin_move(activity, ACTIVITY, "edit", actor)
    keys = clean_values(CrewAssignment(), {"person_id": person_id, "role": role}, ("person_id", "role"))
    return attach(CrewAssignment, actor=actor, action="activity.add_crew", activity_id=activity.pk, **keys)


@transaction.atomic
def remove_crew(*, activity_id: int, person_id: int, role: str, actor: User) -> None:
    """The person doesn't have the role in the activity."""
    activity = Activity.objects.lock(activity_id)
    begin_move(activity, ACTIVITY, "edit", actor)
    keys = clean_values(CrewAssignment(), {"person_id": person_id, "role": role}, ("person_id", "role"))
    detach(CrewAssignment, actor=actor, action="activity.remove_crew", activity_id=activity.pk, **keys)


@transaction.atomic
def add_activity_hardware(*, activity_id: int, item_id: int, actor: User) -> ActivityHardware:
    """The activity uses the item. Refused for an item that isn't in service."""
    activity = Activity.objects.lock(activity_id)
    begin_move(activity, ACTIVITY, "edit", actor)
    item = lock_named("item_id", HardwareItem.objects.all(), item_id)
    if item.state != HardwareState.IN_SERVICE:
        raise Refused(f"This item can't be used: it is {item.state}.", code="hardware_unusable")
    keys = {"activity_id": activity.pk, "item_id": item.pk}
    return attach(ActivityHardware, actor=actor, action="activity.add_hardware", **keys)


@transaction.atomic
def remove_activity_hardware(*, activity_id: int, item_id: int, actor: User) -> None:
    """The activity doesn't use the item."""
    activity = Activity.objects.lock(activity_id)
    begin_move(activity, ACTIVITY, "edit", actor)
    keys = {"activity_id": activity.pk, "item_id": item_id}
    detach(ActivityHardware, actor=actor, action="activity.remove_hardware", **keys)


def _finish(activity_id: int, name: str, actor: User, at: datetime | None, reason: str | None) -> Activity:
    activity = Activity.objects.lock(activity_id)
    move = begin_move(activity, ACTIVITY, name, actor)
    ended_at = need_past("at", at or now())
    reason = "" if reason is None else need_text("reason", reason, WHY)
    if activity.actual_start is not None and ended_at < activity.actual_start:
        raise BadInput(BAD_ORDER, code="bad_order", fields={"at": [BAD_ORDER]})
    changes = {"state": move.target, "actual_end": ended_at, "state_reason": reason}
    change_record(activity, changes, actor=actor, action=f"activity.{name}", reason=reason)
    return activity


def _check_plan(plan: Activity, changed: Mapping[str, Any]) -> None:
    faults: dict[str, list[str]] = {}
    if plan.planned_end <= plan.planned_start:
        faults["planned_end"] = [BAD_ORDER]
    if not all(isinstance(task, str) and 0 < len(task) <= 200 for task in plan.tasks):
        faults["tasks"] = [BAD_TASKS]
    if "lead_id" in changed and not allows(plan.lead, "activity.edit", plan):
        faults["lead_id"] = [BAD_LEAD]
    if faults:
        raise BadInput("The plan can't be used; nothing was saved.", fields=faults)
