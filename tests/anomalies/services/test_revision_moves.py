"""A revision from its draft to release and beyond: what must be true, and what is in force when."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from anomalies.cards import CARD_LINES
from anomalies.errors import EditConflict, Missing
from anomalies.models import LedgerEntry, ProcedureRevision, SignOff
from anomalies.permissions import ROLES
from anomalies.services import revision_moves as moves
from anomalies.services.activities import edit_activity, scrub_activity
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import draft_revision
from anomalies.services.revision_steps import change_revision_step
from config.kit.errors import BadInput, NotAllowed, Refused
from tests.anomalies.people import activity_lead, make_person, safety_engineer
from tests.anomalies.procedures import (
    add_step,
    make_approved,
    make_drafted,
    make_procedure,
    make_released,
    make_sortie,
    make_submitted,
    prove,
    writer,
)
from tests.anomalies.refusals import refused
from tests.anomalies.tampering import execute

pytestmark = pytest.mark.django_db


def in_force(sortie):
    return [revision.number for revision in ProcedureRevision.objects.in_force_for(sortie)]


def release(revision, sortie):
    lead = activity_lead()
    return moves.release_revision(
        revision_id=revision.pk,
        actor=lead,
        version=revision.version,
        proof=prove(lead),
        effective_from_id=sortie.pk,
    )


# --- submitting -----------------------------------------------------------------------------------------------------


def test_all_that_is_missing_is_said_at_once():
    drafted = draft_revision(procedure_id=make_procedure().pk, actor=writer(), summary="New.")
    drafted = add_step(drafted, "Prepare.", kind="group")
    drafted = add_step(drafted, "Read the pressure.", kind="check")
    group, check = [step.key for step in drafted.read_steps()]
    with refused(Missing, code="incomplete") as caught:
        moves.submit_revision(revision_id=drafted.pk, actor=writer(), version=drafted.version)
    assert caught.value.fields == {
        f"step {group}": ["Step 1 is a group without steps."],
        f"step {check}": ["Step 2 doesn't say what reading is expected."],
    }
    assert [gap.place for gap in caught.value.gaps] == [f"step-{group}", f"step-{check}"]


def test_a_revision_without_a_step_is_not_submitted():
    drafted = draft_revision(procedure_id=make_procedure().pk, actor=writer(), summary="New.")
    with refused(Missing, code="incomplete", match="can't be submitted") as caught:
        moves.submit_revision(revision_id=drafted.pk, actor=writer(), version=drafted.version)
    assert caught.value.fields == {"steps": ["There is no step to do."]}


def test_a_revision_that_changes_nothing_is_not_submitted():
    procedure = make_procedure()
    make_released(procedure)
    drafted = draft_revision(procedure_id=procedure.pk, actor=writer(), summary="Nothing.")
    with refused(Missing, code="incomplete") as caught:
        moves.submit_revision(revision_id=drafted.pk, actor=writer(), version=drafted.version)
    assert caught.value.fields == {"steps": ["No step differs from revision 1."]}


def test_a_card_must_fit():
    card = make_procedure(kind="card")
    drafted = make_drafted(card, *(f"Shut valve {number}." for number in range(CARD_LINES)))
    longer = add_step(drafted, "And one more.")
    with refused(Missing, code="incomplete") as caught:
        moves.submit_revision(revision_id=longer.pk, actor=writer(), version=longer.version)
    told = f"It takes {CARD_LINES + 1} lines; a card has {CARD_LINES}: shorten it by 1."
    assert caught.value.fields == {"steps": [told]}
    no_card = make_drafted(None, *("Shut a valve." for _ in range(CARD_LINES + 1)))
    moves.submit_revision(revision_id=no_card.pk, actor=writer(), version=no_card.version)


def test_what_changed_since_it_was_read_is_not_submitted():
    drafted = make_drafted()
    with refused(EditConflict):
        moves.submit_revision(revision_id=drafted.pk, actor=writer(), version=drafted.version - 1)


# --- approval -------------------------------------------------------------------------------------------------------


def everybody(username):
    """Somebody with every role, so that only who they are can be in the way."""
    for role in ROLES:
        person = make_person(role, username)
    return person


def test_the_author_never_approves():
    author = everybody("writer")
    submitted = make_submitted()
    proof = prove(author)
    with refused(NotAllowed, code="author_approves", match="somebody else"):
        moves.approve_revision(revision_id=submitted.pk, actor=author, version=submitted.version, proof=proof)


def test_whoever_wrote_any_of_it_never_approves():
    drafted, second = make_drafted(), everybody("second")
    key = drafted.read_steps()[0].key
    drafted = change_revision_step(
        revision_id=drafted.pk, actor=second, version=drafted.version, key=key, changes={"text": "Push."}
    )
    submitted = moves.submit_revision(revision_id=drafted.pk, actor=writer(), version=drafted.version)
    proof = prove(second)
    with refused(NotAllowed, code="author_approves"):
        moves.approve_revision(revision_id=submitted.pk, actor=second, version=submitted.version, proof=proof)


def test_the_author_of_an_earlier_revision_may_approve_a_later_one():
    procedure = make_procedure()
    make_released(procedure)
    drafted = draft_revision(procedure_id=procedure.pk, actor=everybody("second"), summary="More.")
    drafted = add_step(drafted, "Pull.", actor=everybody("second"))
    submitted = moves.submit_revision(revision_id=drafted.pk, actor=everybody("second"), version=drafted.version)
    author = everybody("writer")
    approved = moves.approve_revision(
        revision_id=submitted.pk, actor=author, version=submitted.version, proof=prove(author)
    )
    assert approved.approver == author


def test_the_database_refuses_an_author_who_approves():
    submitted = make_submitted()
    with pytest.raises(IntegrityError), transaction.atomic():
        execute("UPDATE anomalies_procedurerevision SET approver_id = author_id WHERE id = %s", submitted.pk)


def test_an_approval_does_not_outlive_a_sending_back():
    approved = make_approved()
    with refused(BadInput):
        moves.send_back_revision(revision_id=approved.pk, actor=safety_engineer(), reason=" ")
    back = moves.send_back_revision(revision_id=approved.pk, actor=safety_engineer(), reason="Step 1 is unclear.")
    assert (back.state, back.approver, back.approved_at, back.state_reason) == (
        "drafted",
        None,
        None,
        "Step 1 is unclear.",
    )
    assert LedgerEntry.objects.of("procedure_revision", back.pk).last().reason == "Step 1 is unclear."


# --- release, and what is in force ----------------------------------------------------------------------------------


def test_a_released_revision_holds_from_its_activity_on():
    sorties = [make_sortie(number) for number in (1, 2, 3)]
    first = make_released(sortie=sorties[1])
    assert [in_force(sortie) for sortie in sorties] == [[], [1], [1]]
    assert [entry.meaning for entry in SignOff.objects.of(first)] == [
        "Approved: P-001, revision 1, may be released.",
        f"Released: P-001, revision 1, is in force from “Sortie 2” (activity {sorties[1].pk}) on.",
    ]


def test_the_one_before_still_holds_for_what_starts_earlier():
    procedure, sorties = make_procedure(), [make_sortie(number) for number in (1, 2, 3, 4)]
    first = make_released(procedure, sortie=sorties[0])
    make_released(procedure, sortie=sorties[2])
    assert first.reread().state == "superseded"
    assert [in_force(sortie) for sortie in sorties] == [[1], [1], [2], [2]]
    make_released(procedure, sortie=sorties[1])
    assert [in_force(sortie) for sortie in sorties] == [[1], [3], [3], [3]]
    assert prove_ledger().is_whole


def test_procedures_do_not_stand_in_each_others_way():
    sortie = make_sortie(1)
    make_released(make_procedure(), sortie=sortie)
    make_released(make_procedure(), sortie=sortie)
    assert len(in_force(sortie)) == 2


def test_what_is_withdrawn_leaves_nothing_in_force_until_the_next():
    procedure, sorties = make_procedure(), [make_sortie(number) for number in (1, 2)]
    make_released(procedure, sortie=sorties[0])
    second = make_released(procedure, sortie=sorties[1])
    lead = activity_lead()
    moves.withdraw_revision(revision_id=second.pk, actor=lead, reason="The collar breaks.")
    assert [in_force(sortie) for sortie in sorties] == [[1], []]
    make_released(procedure, sortie=sorties[1])
    assert [in_force(sortie) for sortie in sorties] == [[1], [3]]


def test_a_draft_given_up_changes_nothing_in_force():
    procedure, sortie = make_procedure(), make_sortie(1)
    make_released(procedure, sortie=sortie)
    drafted = make_drafted(procedure)
    moves.withdraw_revision(revision_id=drafted.pk, actor=writer(), reason="Not needed.")
    assert in_force(sortie) == [1]


def test_what_is_in_force_follows_the_plan_of_activities():
    first, second = make_sortie(1), make_sortie(2)
    make_released(sortie=second)
    assert in_force(first) == []
    changes = {"planned_start": make_sortie(3).planned_start, "planned_end": make_sortie(4).planned_end}
    edit_activity(activity_id=first.pk, actor=activity_lead(), version=first.version, changes=changes)
    assert in_force(first.reread()) == [1]


def test_a_revision_is_not_released_for_an_activity_that_is_over():
    approved, sortie, lead = make_approved(), make_sortie(1), activity_lead()
    scrub_activity(activity_id=sortie.pk, actor=lead, reason="Leak.")
    proof = prove(lead)
    with refused(Refused, code="not_planned", match="is scrubbed") as caught:
        moves.release_revision(
            revision_id=approved.pk, actor=lead, version=approved.version, proof=proof, effective_from_id=sortie.pk
        )
    assert set(caught.value.fields) == {"effective_from_id"}


def test_a_release_of_what_changed_since_it_was_read_is_refused():
    approved, sortie = make_approved(), make_sortie(1)
    approved.version -= 1
    prove(activity_lead())
    with refused(EditConflict):
        release(approved, sortie)


def test_withdrawing_needs_a_reason_and_after_release_another_right():
    drafted, released = make_drafted(), make_released()
    author, lead = writer(), activity_lead()
    with refused(BadInput) as caught:
        moves.withdraw_revision(revision_id=drafted.pk, actor=author, reason="")
    assert set(caught.value.fields) == {"reason"}
    with refused(NotAllowed):
        moves.withdraw_revision(revision_id=released.pk, actor=author, reason="Wrong.")
    assert moves.withdraw_revision(revision_id=released.pk, actor=lead, reason="Wrong.").state_reason == "Wrong."


@pytest.mark.parametrize(
    "change",
    [
        "state = 'released'",
        "state = 'withdrawn'",
        "state = 'mislaid'",
        "released_at = CURRENT_TIMESTAMP",
        "effective_from_id = (SELECT MIN(id) FROM anomalies_activity)",
    ],
)
def test_the_database_refuses_a_state_without_what_goes_with_it(change):
    drafted, _ = make_drafted(), make_sortie(1)
    with pytest.raises(IntegrityError), transaction.atomic():
        execute(f"UPDATE anomalies_procedurerevision SET {change} WHERE id = %s", drafted.pk)


def test_the_database_refuses_two_undecided_and_two_released_revisions():
    procedure = make_procedure()
    first = make_released(procedure)
    second = make_released(procedure, sortie=make_sortie(2))
    with pytest.raises(IntegrityError), transaction.atomic():
        execute("UPDATE anomalies_procedurerevision SET state = 'released' WHERE id = %s", first.pk)
    make_drafted(procedure)
    with pytest.raises(IntegrityError), transaction.atomic():
        execute("UPDATE anomalies_procedurerevision SET state = 'approved' WHERE id = %s", second.pk)
