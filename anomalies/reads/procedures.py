"""Questions about procedures that span records."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db.models import Exists, OuterRef, Q, QuerySet

from anomalies.models import CrewAssignment, LedgerEntry, ProcedureRevision, ProcedureUse
from anomalies.models.procedure import ORDER_FIELD, STEP_FIELD, TO_COME
from anomalies.redline import Redline, draw_redline
from anomalies.steps import Steps, load_steps


def read_redline(revision: ProcedureRevision, before: ProcedureRevision | None) -> Redline:
    """Return what the revision changes in the other one; all is added if that's None."""
    return draw_redline(before.read_steps() if before else (), revision.read_steps())


def read_steps_at(revision: ProcedureRevision, version: int) -> Steps:
    """Return the steps as they were at an earlier version, from the ledger; for its history, and to merge edits.

    With `draw_redline` that is what one entry of the ledger changed.
    """
    content: dict[str, Any] = {}
    for entry in LedgerEntry.objects.of(revision.KIND, revision.pk).filter(version__lte=version):
        content |= {name: after for name, (_, after) in entry.changes.items()}
    return load_steps(content[STEP_FIELD + key] for key in content.get(ORDER_FIELD) or ())


def find_readers(revision: ProcedureRevision) -> QuerySet[CrewAssignment]:
    """Return who must have read the revision: the crew of activities to come for which it's in force.

    Somebody with two roles, or in two activities, is there once for each.
    """
    uses = ProcedureUse.objects.to_come().with_revision().filter(revision_id=revision.pk)  # type: ignore[misc]  # annotated
    concerned = uses.filter(Q(role="") | Q(role=OuterRef("role")), activity=OuterRef("activity"))
    crew = CrewAssignment.objects.filter(active=True, activity__state__in=TO_COME)
    return (
        crew.filter(Exists(concerned))
        .select_related("activity", "person")
        .order_by("activity__planned_start", "activity_id", "pk")
    )


def find_missing_readers(revision: ProcedureRevision) -> QuerySet[CrewAssignment]:
    """Return those of the readers who haven't acknowledged the revision yet."""
    return find_readers(revision).exclude(person__in=revision.acknowledgements.values("person"))


def find_unread(person: User) -> QuerySet[ProcedureRevision]:
    """Return the revisions that the person must still read for activities to come."""
    roles = CrewAssignment.objects.filter(active=True, person=person, activity=OuterRef("activity"))
    concerned = Q(Exists(roles), role="") | Q(Exists(roles.filter(role=OuterRef("role"))))
    uses = ProcedureUse.objects.to_come().with_revision().filter(concerned)
    unread = ProcedureRevision.objects.filter(pk__in=uses.values("revision_id"))  # type: ignore[misc]  # annotated
    return unread.exclude(acknowledgements__person=person).select_related("procedure")
