"""Signing: the password again, and what stands under the name."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from anomalies.clock import now, pretending
from anomalies.errors import EditConflict
from anomalies.models import LedgerEntry, SignOff
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.revision_moves import approve_revision, send_back_revision
from anomalies.services.sign_off import MOST_TRIES, TRIES_FOR, confirm_password, find_role, sign
from config.kit.errors import BadInput, NotAllowed, Refused
from tests.anomalies.people import make_person, safety_engineer, viewer
from tests.anomalies.procedures import PASSWORD, make_approved, make_submitted, prove
from tests.anomalies.refusals import refused
from tests.anomalies.tampering import execute

pytestmark = pytest.mark.django_db


def test_a_sign_off_holds_who_in_what_role_meant_what_and_the_hash():
    submitted, engineer = make_submitted(), safety_engineer()
    engineer.first_name, engineer.last_name = "Ilse", "Varga"
    engineer.save()
    approve_revision(revision_id=submitted.pk, actor=engineer, version=submitted.version, proof=prove(engineer))
    signed = SignOff.objects.of(submitted).get()
    assert (signed.signer, signed.signer_name, signed.signer_role) == (engineer, "Ilse Varga", "safety engineer")
    assert signed.meaning == "Approved: P-001, revision 1, may be released."
    assert (signed.signed_version, signed.signed_hash) == (submitted.version, submitted.content_hash())
    recorded = LedgerEntry.objects.get(kind="procedure_revision", record_id=submitted.pk, version=submitted.version)
    assert signed.signed_hash == recorded.content_hash
    assert prove_ledger().is_whole


def test_a_wrong_password_proves_nothing():
    person = safety_engineer()
    prove(person)
    with pytest.raises(BadInput) as caught:
        confirm_password(actor=person, password="guess")
    assert (caught.value.code, set(caught.value.fields)) == ("wrong_password", {"password"})


def test_a_closed_account_proves_nothing():
    person = safety_engineer()
    prove(person)
    person.is_active = False
    with pytest.raises(BadInput):
        confirm_password(actor=person, password="weeping coupling")


def guess(person, times=1):
    """Wrong passwords; returns the code of the last refusal."""
    for _ in range(times):
        with pytest.raises(BadInput) as caught:
            confirm_password(actor=person, password="guess")
    return caught.value.code


def test_after_five_guesses_not_even_the_right_password_is_looked_at():
    person, at = safety_engineer(), now()
    prove(person)
    with pretending(at):
        assert guess(person, MOST_TRIES) == "wrong_password"
    with pretending(at + TRIES_FOR), pytest.raises(BadInput) as caught:
        confirm_password(actor=person, password=PASSWORD)
    assert (caught.value.code, set(caught.value.fields)) == ("too_many_tries", {"password"})
    assert f"{at + TRIES_FOR:%H:%M} UTC" in caught.value.message


def test_fifteen_minutes_after_the_first_guess_the_password_is_looked_at_again():
    person, at = safety_engineer(), now()
    prove(person)
    with pretending(at):
        guess(person, MOST_TRIES)
    with pretending(at + TRIES_FOR + timedelta(seconds=1)):
        assert confirm_password(actor=person, password=PASSWORD).person_id == person.pk


def test_the_right_password_forgives_the_wrong_ones():
    person = safety_engineer()
    prove(person)
    guess(person, MOST_TRIES - 1)
    confirm_password(actor=person, password=PASSWORD)
    assert guess(person, MOST_TRIES) == "wrong_password"


def test_guesses_of_one_person_stop_nobody_else():
    person, other = safety_engineer(), viewer()
    prove(other)
    guess(person, MOST_TRIES)
    assert guess(person) == "too_many_tries"
    assert confirm_password(actor=other, password=PASSWORD).person_id == other.pk


@pytest.mark.parametrize("age", [timedelta(minutes=5, seconds=1), timedelta(seconds=-60)])
def test_a_proof_is_good_for_minutes(age):
    submitted, engineer = make_submitted(), safety_engineer()
    proof = prove(engineer)
    with refused(NotAllowed, code="password_again"):
        approve_revision(
            revision_id=submitted.pk,
            actor=engineer,
            version=submitted.version,
            proof=replace(proof, at=proof.at - age),
        )


def test_nobody_signs_with_somebody_elses_password():
    submitted, proof = make_submitted(), prove(viewer())
    with refused(NotAllowed, code="password_again"):
        approve_revision(revision_id=submitted.pk, actor=safety_engineer(), version=submitted.version, proof=proof)


def test_what_changed_since_it_was_read_is_not_signed():
    submitted, engineer = make_submitted(), safety_engineer()
    proof = prove(engineer)
    with refused(EditConflict) as caught:
        approve_revision(revision_id=submitted.pk, actor=engineer, version=submitted.version - 1, proof=proof)
    assert caught.value.theirs == {"state": {"before": "drafted", "after": "submitted"}}


def test_what_was_changed_behind_the_ledger_is_not_signed():
    submitted, engineer = make_submitted(), safety_engineer()
    proof = prove(engineer)
    execute("UPDATE anomalies_procedurerevision SET summary = 'All is well' WHERE id = %s", submitted.pk)
    with refused(Refused, code="not_as_recorded"):
        approve_revision(revision_id=submitted.pk, actor=engineer, version=submitted.version, proof=proof)


def test_a_sign_off_stays_when_what_it_stood_for_is_sent_back():
    approved = make_approved()
    send_back_revision(revision_id=approved.pk, actor=safety_engineer(), reason="Step 1 is unclear.")
    assert SignOff.objects.of(approved).count() == 1
    assert prove_ledger().is_whole


def test_a_sign_off_under_something_else_is_found():
    approved = make_approved()
    entry = LedgerEntry.objects.filter(kind="sign_off").get()
    # Somebody moves the signature, and the ledger's memory of it, to another version: only the link gives it away.
    signed = SignOff.objects.get()
    version = signed.signed_version - 1
    execute("UPDATE anomalies_signoff SET signed_version = %s WHERE id = %s", version, signed.pk)
    faults = {fault.code: fault for fault in prove_ledger().record_faults}
    assert set(faults) == {"record_changed", "signature_differs"}
    assert f"version {version} of the procedure_revision {approved.pk}" in faults["signature_differs"].message
    assert faults["record_changed"].sequence == entry.sequence


def test_roles_are_those_that_hold_the_permission():
    person = make_person("verifier", "two-roles")
    person = make_person("viewer", person.username)
    assert find_role(person, "approve_procedure") == "verifier"
    assert find_role(person, "view_procedure") == "verifier, viewer"
    assert find_role(person, "release_procedure") == "permission of their own"


def test_the_database_refuses_a_sign_off_that_means_nothing():
    submitted, engineer = make_submitted(), safety_engineer()
    proof = prove(engineer)
    with pytest.raises(IntegrityError), transaction.atomic():
        sign(
            submitted,
            actor=engineer,
            proof=proof,
            seen=submitted.version,
            meaning="",
            permission="approve_procedure",
        )
