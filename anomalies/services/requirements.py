"""Writes of what kinds of activity ask for, and of what was done of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, Fulfilment, Requirement, StandardPosition
from anomalies.reads.readiness.scope import read_scope
from anomalies.services.checks import begin_move, clean_values, lock_named, need_past, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, create_record
from anomalies.states import FULFILMENT, REQUIREMENT, ActivityState, RequirementState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

FIELDS = ("activity_kind", "sort", "statement", "scope", "role", "hardware_type_id", "within_days")
NO_TYPE = "Choose the type of hardware that it is done on."
STRAY_TYPE = "Only what is done on each item names a type of hardware."
STRAY_ROLE = "Only what each of the crew does names a role."
WHY = "Say why."
NOT_ASKED = "This isn't asked of this activity."
WHO = "Choose somebody of the crew from whom it is asked."
WHICH = "Choose an item that the activity uses, of the type asked for."
TWICE = "This is recorded already: withdraw that first if it was wrong."
OVER = "This activity is over; nothing more is recorded for it."


@transaction.atomic
def add_requirement(
    *, actor: User, activity_kind: str, sort: str, statement: str, scope: str, **more: Any
) -> Requirement:
    """Activities of the kind are asked for it from now on; `more` may give role, hardware_type_id, within_days."""
    require(actor, "requirement.add")
    given = {"activity_kind": activity_kind, "sort": sort, "statement": statement, "scope": scope} | more
    row = Requirement(**clean_values(Requirement(), given, FIELDS))
    _check(row)
    create_record(row, actor=actor, action="requirement.add")
    return row


@transaction.atomic
def edit_requirement(*, requirement_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> Requirement:
    """It is asked otherwise; raises EditConflict if it changed since `version`."""
    row = Requirement.objects.lock(requirement_id)
    changed = edit_fields(row, REQUIREMENT, actor=actor, version=version, changes=changes, allowed=FIELDS)
    _check(Requirement(**{name: getattr(row, name) for name in FIELDS} | changed))
    if changed:
        change_record(row, changed, actor=actor, action="requirement.edit")
    return row


@transaction.atomic
def retire_requirement(*, requirement_id: int, actor: User, reason: str) -> Requirement:
    """Nobody is asked for it any more."""
    row = Requirement.objects.lock(requirement_id)
    move = begin_move(row, REQUIREMENT, "retire", actor)
    reason = need_text("reason", reason, WHY)
    change_record(row, {"state": move.target}, actor=actor, action="requirement.retire", reason=reason)
    return row


@transaction.atomic
def restore_requirement(*, requirement_id: int, actor: User, reason: str) -> Requirement:
    """It is asked for again."""
    row = Requirement.objects.lock(requirement_id)
    move = begin_move(row, REQUIREMENT, "restore", actor)
    reason = need_text("reason", reason, WHY)
    change_record(row, {"state": move.target}, actor=actor, action="requirement.restore", reason=reason)
    return row


@transaction.atomic
def ask_position(*, actor: User, activity_kind: str, name: str) -> StandardPosition:
    """Reviews of activities of the kind that open from now on ask this position."""
    require(actor, "standard_position.set")
    keys = clean_values(StandardPosition(), {"activity_kind": activity_kind, "name": name}, ("activity_kind", "name"))
    return attach(StandardPosition, actor=actor, action="standard_position.ask", **keys)


@transaction.atomic
def drop_position(*, actor: User, activity_kind: str, name: str) -> None:
    """Reviews that open from now on don't ask it."""
    require(actor, "standard_position.set")
    detach(StandardPosition, actor=actor, action="standard_position.drop", activity_kind=activity_kind, name=name)


@transaction.atomic
def record_fulfilment(
    *,
    actor: User,
    activity_id: int,
    requirement_id: int,
    done_at: datetime,
    note: str,
    person_id: int | None = None,
    item_id: int | None = None,
) -> Fulfilment:
    """The requirement was met for the activity, by the person or on the item if it asks for one of each."""
    require(actor, "fulfilment.record")
    activity = lock_named("activity_id", Activity.objects.all(), activity_id)
    if activity.state not in (ActivityState.PLANNED, ActivityState.UNDER_WAY):
        raise Refused(OVER, code="activity_over")
    row = lock_named("requirement_id", Requirement.objects.all(), requirement_id)
    given = {"person_id": person_id, "item_id": item_id, "note": note}
    values = clean_values(Fulfilment(), given, tuple(given))
    values["note"] = need_text("note", note, "Say what was done, and where its record is.")
    _check_fulfilment(activity, row, values)
    made = Fulfilment(
        activity=activity,
        requirement=row,
        done_at=need_past("done_at", done_at),
        recorded_by=actor,
        recorded_at=now(),
        **values,
    )
    create_record(made, actor=actor, action="fulfilment.record")
    return made


@transaction.atomic
def withdraw_fulfilment(*, fulfilment_id: int, actor: User, reason: str) -> Fulfilment:
    """It doesn't count."""
    row = Fulfilment.objects.lock(fulfilment_id)
    move = begin_move(row, FULFILMENT, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    change_record(row, {"state": move.target}, actor=actor, action="fulfilment.withdraw", reason=reason)
    return row


def _check(row: Requirement) -> None:
    faults: dict[str, list[str]] = {}
    of_items = row.scope == Requirement.Scope.ITEM
    if of_items and row.hardware_type_id is None:
        faults["hardware_type_id"] = [NO_TYPE]
    if not of_items and row.hardware_type_id is not None:
        faults["hardware_type_id"] = [STRAY_TYPE]
    if row.role and row.scope != Requirement.Scope.CREW:
        faults["role"] = [STRAY_ROLE]
    if faults:
        raise BadInput("This can't be asked so; nothing was saved.", fields=faults)


def _check_fulfilment(activity: Activity, row: Requirement, values: Mapping[str, Any]) -> None:
    if row.state != RequirementState.IN_USE or row.activity_kind != activity.kind:
        raise BadInput(NOT_ASKED, fields={"requirement_id": [NOT_ASKED]})
    person, item = values["person_id"], values["item_id"]
    crew = activity.crew.filter(active=True, person=person)
    right_person = crew.filter(role=row.role) if row.role else crew
    if (row.scope == Requirement.Scope.CREW) != (person is not None) or (person and not right_person.exists()):
        raise BadInput(WHO, code="wrong_person", fields={"person_id": [WHO]})
    used = read_scope(activity).items.get(item) if item else None
    right_item = used is not None and used.type_id == row.hardware_type_id
    if (row.scope == Requirement.Scope.ITEM) != (item is not None) or (item and not right_item):
        raise BadInput(WHICH, code="wrong_item", fields={"item_id": [WHICH]})
    keys = {"activity": activity, "requirement": row, "person_id": person, "item_id": item}
    if Fulfilment.objects.standing().filter(**keys).exists():
        raise BadInput(TWICE, code="twice", fields={"requirement_id": [TWICE]})
