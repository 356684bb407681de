"""Procedures for tests, made with the services that make them in earnest.

The action owner writes, the safety engineer approves, the activity lead releases.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User

from anomalies import permissions
from anomalies.models import Activity, Procedure, ProcedureRevision
from anomalies.services.procedures import add_procedure, draft_revision
from anomalies.services.revision_moves import approve_revision, release_revision, submit_revision
from anomalies.services.revision_steps import add_revision_step
from anomalies.services.sign_off import PasswordProof, confirm_password
from tests.anomalies.people import SEEN_AT, activity_lead, make_activity, make_person, safety_engineer

PASSWORD = "weeping coupling"


def writer() -> User:
    return make_person(permissions.ACTION_OWNER, "writer")


def prove(person: User) -> PasswordProof:
    """The person gave their password just now."""
    if not person.has_usable_password() or not person.check_password(PASSWORD):
        person.set_password(PASSWORD)
        person.save()
    return confirm_password(actor=person, password=PASSWORD)


def make_sortie(number: int, **changes: Any) -> Activity:
    """Sortie 1 is planned for the first day, sortie 2 for the second and so on."""
    start = SEEN_AT + timedelta(days=number)
    times = {"planned_start": start, "planned_end": start + timedelta(hours=7)}
    return make_activity(**{"title": f"Sortie {number}"} | times | changes)


def make_procedure(**changes: Any) -> Procedure:
    return add_procedure(actor=writer(), **{"title": "Mate the umbilical", "kind": "operation"} | changes)


def make_drafted(procedure: Procedure | None = None, *texts: str, **changes: Any) -> ProcedureRevision:
    """A draft with one more step for each text than its base has."""
    procedure = procedure or make_procedure()
    revision = draft_revision(
        procedure_id=procedure.pk, actor=writer(), **{"summary": "The collar must click."} | changes
    )
    for text in texts or (f"Do what revision {revision.number} says.",):
        revision = add_step(revision, text)
    return revision


def add_step(revision: ProcedureRevision, text: str, **more: Any) -> ProcedureRevision:
    """One more step to do, at the end."""
    given = {"revision_id": revision.pk, "actor": writer(), "version": revision.version, "kind": "do", "text": text}
    return add_revision_step(**given | more)[0]


def make_submitted(*args: Any, **changes: Any) -> ProcedureRevision:
    drafted = make_drafted(*args, **changes)
    return submit_revision(revision_id=drafted.pk, actor=writer(), version=drafted.version)


def make_approved(*args: Any, **changes: Any) -> ProcedureRevision:
    submitted, actor = make_submitted(*args, **changes), safety_engineer()
    return approve_revision(revision_id=submitted.pk, actor=actor, version=submitted.version, proof=prove(actor))


def make_released(
    procedure: Procedure | None = None, *texts: str, sortie: Activity | None = None, **changes: Any
) -> ProcedureRevision:
    """In force from sortie 1 on, if not said."""
    approved, actor = make_approved(procedure, *texts, **changes), activity_lead()
    return release_revision(
        revision_id=approved.pk,
        actor=actor,
        version=approved.version,
        proof=prove(actor),
        effective_from_id=(sortie or make_sortie(1)).pk,
    )
