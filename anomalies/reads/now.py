"""What needs somebody now: gathered for the start page, each block only for those whom it concerns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC
from typing import Any

from django.contrib.auth.models import User
from django.db.models import F, Prefetch, QuerySet

from anomalies.clock import now
from anomalies.models import (
    Activity,
    Anomaly,
    Concurrence,
    Constraint,
    CorrectiveAction,
    Finding,
    LedgerEntry,
    ProcedureRevision,
)
from anomalies.reads.procedures import find_unread
from anomalies.states import RevisionState
from config.kit.permissions import allows

SHOWN = 12
NEWEST = 10


@dataclass(frozen=True, slots=True)
class Block:
    """Something to do: a title, why it's here, and the records. `kind` picks how they are shown."""

    name: str
    title: str
    kind: str
    rows: Sequence[Any]
    more: bool


@dataclass(frozen=True, slots=True)
class NextActivity:
    """The next activity, what holds it, and what is still owed before it."""

    activity: Activity
    days: int
    constraints: Sequence[Constraint]
    actions: Sequence[CorrectiveAction]


@dataclass(frozen=True, slots=True)
class Change:
    """One entry of the ledger, and the record it is about."""

    entry: LedgerEntry
    record: Any


def read_blocks(person: User) -> list[Block]:
    """Return what the person must do; blocks with nothing in them are left out."""
    may = person.has_perm
    anomalies = Anomaly.objects.visible_to(person)
    actions = CorrectiveAction.objects.visible_to(person).select_related("anomaly", "owner", "needed_before")
    found = [
        _block("screen", "Reports to screen", "anomaly", anomalies.awaiting_screening())
        if may("anomalies.screen_anomaly")
        else None,
        _block("owed", "Actions you owe", "action", actions.owed().filter(owner=person).order_by("due_on", "pk")),
        _block(
            "verify",
            "Actions awaiting your verification",
            "action",
            actions.awaiting_verification().exclude(owner=person).exclude(doer=person).order_by("done_at"),
        )
        if may("anomalies.verify_correctiveaction")
        else None,
        _block("stand", "Findings awaiting your word", "finding", _find_unspoken(person)),
        _block("approve", "Revisions awaiting your approval", "revision", _find_unapproved(person))
        if may("anomalies.approve_procedure")
        else None,
        _block("read", "Procedures to read and acknowledge", "revision", find_unread(person).distinct()),
        _block("lead", "Anomalies you lead", "anomaly", anomalies.open().filter(lead=person).order_by("-occurred_at")),
        _block("drafts", "Drafts of yours", "anomaly", anomalies.drafts_of(person)),
    ]
    return [block for block in found if block is not None and block.rows]


def read_next_activity(person: User) -> NextActivity | None:
    """Return the next planned activity and what stands in its way; None if there is none to see."""
    activity = Activity.objects.visible_to(person).coming().filter(planned_start__gte=now()).first()
    if activity is None:
        return None
    held = Constraint.objects.visible_to(person).in_force().on_activity(activity).select_related("anomaly").distinct()
    owed = CorrectiveAction.objects.visible_to(person).unsettled().filter(needed_before=activity)
    days = (activity.planned_start.astimezone(UTC).date() - now().astimezone(UTC).date()).days
    return NextActivity(activity, days, list(held), list(owed.select_related("owner")))


def read_newest(person: User) -> list[Change]:
    """Return the newest changes of what everybody may see."""
    models: list[type[Any]] = [Anomaly] if allows(person, "anomaly.view") else []
    models += [CorrectiveAction] if allows(person, "action.view") else []
    models += [Activity] if allows(person, "activity.view") else []
    quiet = ("anomaly.draft", "anomaly.edit", "action.edit", "activity.edit", "anomaly.discard")
    wanted = LedgerEntry.objects.filter(kind__in=[model.KIND for model in models]).exclude(action__in=quiet)
    entries = list(wanted.select_related("actor").order_by("-sequence")[:NEWEST])
    records = {
        (model.KIND, pk): record
        for model in models
        for pk, record in model._base_manager.in_bulk(
            [entry.record_id for entry in entries if entry.kind == model.KIND]
        ).items()
    }
    return [Change(entry, records[entry.kind, entry.record_id]) for entry in entries]


def _block(name: str, title: str, kind: str, rows: Any) -> Block:
    found = list(rows[: SHOWN + 1])
    return Block(name, title, kind, found[:SHOWN], len(found) > SHOWN)


def _find_unspoken(person: User) -> Any:
    """Return findings before a board on which the person sits and hasn't spoken on this wording."""
    dissents: QuerySet[Any] = Concurrence.objects.filter(stand=Concurrence.Stand.DISSENTS).select_related("member")
    before = Finding.objects.visible_to(person).before_the_board().select_related("anomaly")
    before = before.prefetch_related(Prefetch("concurrences", queryset=dissents, to_attr="dissents"))
    mine = before.filter(anomaly__board__person=person, anomaly__board__active=True)
    spoken = Finding.objects.filter(concurrences__member=person, concurrences__wording=F("wording"))
    return mine.exclude(pk__in=spoken.values("pk")).order_by("proposed_at")


def _find_unapproved(person: User) -> list[ProcedureRevision]:
    submitted = ProcedureRevision.objects.visible_to(person).filter(state=RevisionState.SUBMITTED)
    rows = submitted.exclude(author=person).select_related("procedure")
    return [row for row in rows if not row.was_written_by(person)]
