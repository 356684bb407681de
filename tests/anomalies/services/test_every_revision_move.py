"""Every move of a procedure's revision: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies.models import LedgerEntry, ProcedureRevision
from anomalies.permissions import ROLES
from anomalies.services import revision_moves as moves
from anomalies.services.procedures import edit_revision, use_procedure
from anomalies.states import PROCEDURE_REVISION, RevisionState
from config.kit.errors import NotAllowed, WrongState
from config.kit.permissions import rule_names
from tests.anomalies.people import make_person, make_stranger
from tests.anomalies.procedures import (
    make_approved,
    make_drafted,
    make_procedure,
    make_released,
    make_sortie,
    make_submitted,
    prove,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db

TABLE = (
    "edit: drafted>drafted; submit: drafted>submitted; send_back: submitted>drafted approved>drafted;"
    "approve: submitted>approved; release: approved>released; supersede: released>superseded;"
    "acknowledge: released>released superseded>superseded;"
    "withdraw: drafted>withdrawn submitted>withdrawn approved>withdrawn released>withdrawn superseded>withdrawn"
)
WRITERS = "action owner, activity lead, safety engineer"
MOVES = {  # move -> how it's made, and the roles that may
    "edit": (
        lambda r, actor: edit_revision(
            revision_id=r.pk, actor=actor, version=r.version, changes={"summary": "Another."}
        ),
        WRITERS,
    ),
    "submit": (lambda r, actor: moves.submit_revision(revision_id=r.pk, actor=actor, version=r.version), WRITERS),
    "send_back": (
        lambda r, actor: moves.send_back_revision(revision_id=r.pk, actor=actor, reason="Unclear."),
        f"{WRITERS}, verifier",
    ),
    "approve": (
        lambda r, actor: moves.approve_revision(revision_id=r.pk, actor=actor, version=r.version, proof=prove(actor)),
        "safety engineer, verifier",
    ),
    "release": (
        lambda r, actor: moves.release_revision(
            revision_id=r.pk,
            actor=actor,
            version=r.version,
            proof=prove(actor),
            effective_from_id=r.procedure.uses.get().activity_id,
        ),
        "activity lead, administrator",
    ),
    "acknowledge": (
        lambda r, actor: moves.acknowledge_revision(revision_id=r.pk, actor=actor),
        ", ".join(ROLES),
    ),
    "withdraw": (
        lambda r, actor: moves.withdraw_revision(revision_id=r.pk, actor=actor, reason="No use."),
        WRITERS,
    ),
}


def read_table():
    table = {}
    for part in TABLE.split(";"):
        name, _, steps = part.strip().partition(":")
        table |= {(name, source): target for source, target in (step.split(">") for step in steps.split())}
    return table


def in_state(state):
    """A revision in the state; an activity for which it may be released is there."""
    procedure = make_procedure()
    sortie = make_sortie(5)
    lead = make_person("activity lead")
    use_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=lead)
    make = {"drafted": make_drafted, "submitted": make_submitted, "approved": make_approved}.get(state, make_released)
    revision = make(procedure)
    if state == "superseded":
        make_released(procedure)
    if state == "withdrawn":
        moves.withdraw_revision(revision_id=revision.pk, actor=lead, reason="Wrong.")
    return ProcedureRevision.objects.get(pk=revision.pk)


def test_the_table_has_no_other_state_or_move():
    assert set(PROCEDURE_REVISION.states) == set(RevisionState.values)
    assert {(move.name, move.source): move.target for move in PROCEDURE_REVISION.moves} == read_table()
    assert {f"procedure_revision.{move.name}" for move in PROCEDURE_REVISION.moves} <= rule_names()


def test_every_move_is_here_but_the_one_that_comes_with_a_release():
    assert {*MOVES, "supersede"} == {move.name for move in PROCEDURE_REVISION.moves}


@pytest.mark.parametrize("state", RevisionState.values)
@pytest.mark.parametrize("name", MOVES)
def test_a_move_is_made_or_refused_as_the_table_says(name, state):
    revision = in_state(state)
    assert revision.state == state
    for role in ROLES:
        everybody = make_person(role, "everybody")
    prove(everybody)
    entries = LedgerEntry.objects.count()
    if (name, state) in read_table():
        MOVES[name][0](revision, everybody)
        assert revision.reread().state == read_table()[name, state]
        assert LedgerEntry.objects.count() > entries
    else:
        with refused(WrongState):
            MOVES[name][0](revision, everybody)


@pytest.mark.parametrize("role", [*ROLES, ""])
@pytest.mark.parametrize("name", MOVES)
def test_a_move_is_made_only_by_those_who_may(name, role):
    revision = in_state(next(move.source for move in PROCEDURE_REVISION.moves if move.name == name))
    actor = make_person(role, "somebody-else") if role else make_stranger()
    prove(actor)
    if role and role in MOVES[name][1].split(", "):
        MOVES[name][0](revision, actor)
    else:
        with refused(NotAllowed):
            MOVES[name][0](revision, actor)


def test_after_release_only_those_who_release_withdraw():
    for role in ROLES:
        revision, actor = in_state("released"), make_person(role, f"another-{role}")
        if role in ("activity lead", "administrator"):
            MOVES["withdraw"][0](revision, actor)
        else:
            with refused(NotAllowed):
                MOVES["withdraw"][0](revision, actor)
