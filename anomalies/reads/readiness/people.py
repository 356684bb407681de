"""Items that people owe: procedures to read, and what the kind of activity asks for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta

from anomalies.models import (
    Acknowledgement,
    CrewAssignment,
    Fulfilment,
    HardwareItem,
    PollAnswer,
    Procedure,
    ProcedureRevision,
    ProcedureUse,
    ReadinessReview,
    Requirement,
)
from anomalies.people import name_of
from anomalies.reads.readiness.item import MET, OPEN, Item
from anomalies.reads.readiness.scope import Scope


def find_reading(scope: Scope) -> Iterator[Item]:
    """Give each procedure on the list, and each reader of the revision that is in force for the activity."""
    uses = ProcedureUse.objects.filter(activity=scope.activity, active=True).order_by("procedure__number", "pk")
    roles: dict[int, set[str]] = defaultdict(set)
    procedures: dict[int, Procedure] = {}
    for use in uses.select_related("procedure"):
        roles[use.procedure_id].add(use.role)
        procedures[use.procedure_id] = use.procedure
    in_force = ProcedureRevision.objects.in_force_for(scope.activity).filter(procedure__in=procedures).defer("steps")
    revisions = {row.procedure_id: row for row in in_force.select_related("procedure")}
    given = Acknowledgement.objects.filter(revision__in=[row.pk for row in revisions.values()])
    read = {(row.revision_id, row.person_id): row for row in given}
    crew = list(_find_crew(scope))
    for key, procedure in procedures.items():
        revision = revisions.get(key)
        if revision is None:
            because = "No revision of it is in force for this activity."
            lead = name_of(scope.activity.lead)
            yield Item(f"procedure-{key}", str(procedure), OPEN, because, "", procedure, lead)
            continue
        because = f"Revision {revision.number} is in force."
        yield Item(f"procedure-{key}", str(procedure), MET, because, f"revision {revision.pk}", revision)
        readers = {each.person_id: each for each in crew if {"", each.role} & roles[key]}
        for person, each in sorted(readers.items()):
            yield _read_reader(revision, each, read.get((revision.pk, person)))


def _read_reader(revision: ProcedureRevision, each: CrewAssignment, given: Acknowledgement | None) -> Item:
    name = name_of(each.person)
    key = f"reading-{revision.pk}-{each.person_id}"
    title = f"{name} ({each.role}) has read {revision.procedure.number}, revision {revision.number}"
    if given:
        because = f"Acknowledged on {given.acknowledged_at:%Y-%m-%d %H:%M} UTC."
        return Item(key, title, MET, because, f"acknowledgement {given.pk}", revision)
    return Item(key, title, OPEN, "It isn't acknowledged.", "", revision, name)


def _find_crew(scope: Scope) -> Iterator[CrewAssignment]:
    yield from scope.activity.crew.filter(active=True).select_related("person").order_by("pk")


def find_requirements(scope: Scope) -> Iterator[Item]:
    """Give what the kind of activity asks for: once, from each of the crew, or of each item of a type."""
    activity = scope.activity
    given = Fulfilment.objects.standing().filter(activity=activity)
    done = {(row.requirement_id, row.person_id, row.item_id): row for row in given}
    crew = list(_find_crew(scope))
    lead = name_of(activity.lead)
    for row in Requirement.objects.asked_of(activity.kind).select_related("hardware_type"):
        sort = row.get_sort_display()
        if row.scope == Requirement.Scope.CREW:
            people = {each.person_id: each for each in crew if row.role in ("", each.role)}
            for key, each in sorted(people.items()):
                name = name_of(each.person)
                title = f"{sort}: {row.statement}, {name}"
                yield _read_requirement(scope, row, f"-person-{key}", title, name, done.get((row.pk, key, None)))
        elif row.scope == Requirement.Scope.ITEM:
            for item in _find_items(scope, row):
                title = f"{sort}: {row.statement}, {item}"
                found = done.get((row.pk, None, item.pk))
                yield _read_requirement(scope, row, f"-item-{item.pk}", title, lead, found)
        else:
            found = done.get((row.pk, None, None))
            yield _read_requirement(scope, row, "", f"{sort}: {row.statement}", lead, found)


def _find_items(scope: Scope, row: Requirement) -> list[HardwareItem]:
    found = [item for item in scope.items.values() if item.type_id == row.hardware_type_id]
    return sorted(found, key=lambda item: item.serial_number)


def _read_requirement(
    scope: Scope, row: Requirement, suffix: str, title: str, owner: str, done: Fulfilment | None
) -> Item:
    key = f"requirement-{row.pk}{suffix}"
    start = scope.activity.planned_start
    if done is None:
        return Item(key, title, OPEN, "Nothing is recorded.", "", row, owner, scope.activity.planned_start)
    on = f"{done.done_at:%Y-%m-%d}"
    if row.within_days is not None and done.done_at < start - timedelta(days=row.within_days):
        because = f"Done on {on}; it counts only within {row.within_days} days before the planned start."
        return Item(key, title, OPEN, because, f"old {done.pk}", done, owner, scope.activity.planned_start)
    return Item(key, title, MET, f"{on}: {done.note}", f"fulfilment {done.pk}", done)


def find_conditions(review: ReadinessReview | None) -> Iterator[Item]:
    """Give the conditions that positions made in the round."""
    if review is None:
        return
    rows = PollAnswer.objects.said_last_in(review).filter(stand=PollAnswer.Stand.CONDITION, overtaken_at=None)
    for row in rows.select_related("position", "answered_by", "settled_by").order_by("pk"):
        title = f"{row.position.name}: {row.text}"
        if row.settled_at and row.settled_by:
            because = f"Met, says {name_of(row.settled_by)}: {row.settled_note}"
            yield Item(f"condition-{row.pk}", title, MET, because, f"settled {row.settled_at.isoformat()}", row)
        else:
            owner = name_of(review.activity.lead)
            yield Item(f"condition-{row.pk}", title, OPEN, "Nobody has recorded that it is met.", "", row, owner)
