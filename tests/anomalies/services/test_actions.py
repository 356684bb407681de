"""Corrective actions: committed against criteria, done as their kind asks, verified by another, watched."""

from __future__ import annotations

from datetime import timedelta

import pytest
from scipy.stats import beta

from anomalies.clock import now
from anomalies.errors import EditConflict, Missing
from anomalies.models import SignOff
from anomalies.reads.effectiveness import find_least_success, read_watch
from anomalies.services.action_work import do_action
from anomalies.services.actions import (
    address_causes,
    commit_action,
    drop_action,
    edit_action,
    propose_action,
    recommit_action,
    reopen_action,
)
from anomalies.services.activities import complete_activity, start_activity
from anomalies.services.hardware import install_hardware, remove_hardware
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import draft_revision
from anomalies.services.verification import find_action_effective, send_back_action
from config.kit.errors import BadInput, NotAllowed, WrongState
from tests.anomalies.actions import (
    make_committed,
    make_done,
    make_proposed,
    make_verified,
    next_week,
    owner,
    verifier,
    verify,
)
from tests.anomalies.files import PDF, make_evidence, upload
from tests.anomalies.investigation import make_cause, make_confirmed
from tests.anomalies.people import activity_lead, board_member, make_activity, make_item, make_person, viewer
from tests.anomalies.procedures import make_procedure, make_released, prove
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def do(action, **changes):
    given = {"version": action.version, "note": "Done."}
    return do_action(action_id=action.pk, actor=owner(), **given | changes)


def test_numbers_count_within_the_year():
    cause = make_confirmed()
    year = now().year
    assert [make_proposed(cause).number for _ in range(2)] == [f"CA-{year}-001", f"CA-{year}-002"]


def test_causes_are_those_of_its_anomaly():
    action, other = make_proposed(), make_cause()
    with refused(BadInput, code="not_ours"):
        address_causes(action_id=action.pk, actor=board_member(), version=action.version, cause_ids=[other.pk])


def test_without_a_cause_nobody_commits_to_it():
    action = make_proposed(cause_ids=[])
    person = owner()
    with refused(Missing, code="no_cause"):
        commit_action(action_id=action.pk, actor=board_member(), version=1, owner_id=person.pk, due_on=next_week())


def test_a_committed_action_keeps_a_cause():
    action = make_committed()
    with refused(BadInput, code="no_cause"):
        address_causes(action_id=action.pk, actor=board_member(), version=action.version, cause_ids=[])


@pytest.mark.parametrize("field", ["owner_id", "due_on", "acceptance_criteria"])
def test_a_commitment_is_whole(field):
    action = make_proposed(acceptance_criteria="")
    given = {"owner_id": owner().pk, "due_on": next_week(), "acceptance_criteria": "Seen."}
    given[field] = None if field != "acceptance_criteria" else ""
    with refused(BadInput) as caught:
        commit_action(action_id=action.pk, actor=board_member(), version=action.version, **given)
    assert field in caught.value.fields


def test_the_owner_must_be_able_to_own_and_the_day_to_come():
    action, reader, person = make_proposed(), viewer(), owner()
    with refused(BadInput, code="cannot_own"):
        commit_action(
            action_id=action.pk, actor=board_member(), version=action.version, owner_id=reader.pk, due_on=next_week()
        )
    with refused(BadInput, code="in_past"):
        commit_action(
            action_id=action.pk,
            actor=board_member(),
            version=action.version,
            owner_id=person.pk,
            due_on=(now() - timedelta(days=1)).date(),
        )


def test_criteria_change_only_with_a_reason_once_committed():
    action = make_committed()
    with refused(BadInput):
        edit_action(
            action_id=action.pk, actor=board_member(), version=action.version, changes={"acceptance_criteria": "Less."}
        )
    given = {"version": action.version, "owner_id": owner().pk, "due_on": next_week(), "reason": "Agreed."}
    changed = recommit_action(action_id=action.pk, actor=board_member(), acceptance_criteria="Less.", **given)
    assert changed.acceptance_criteria == "Less."
    with refused(EditConflict):
        recommit_action(action_id=action.pk, actor=board_member(), **given)


def test_a_replacement_must_agree_with_the_hardware_records():
    action = make_committed(kind="replacement")
    old, new, suit = make_item("B"), make_item("C"), make_item("S1", "SUIT-1")
    lead = activity_lead()
    install_hardware(item_id=old.pk, parent_id=suit.pk, actor=lead)
    details = {"removed_item_id": old.pk, "installed_item_id": new.pk, "retest": "passed", "retest_note": "2 h, dry."}
    owner()
    with refused(Missing, code="not_done") as caught:
        do(action, **details)
    assert [gap.record_id for gap in caught.value.gaps] == [old.pk, new.pk]
    remove_hardware(item_id=old.pk, actor=lead, location="Locker", reason="Leaks.")
    install_hardware(item_id=new.pk, parent_id=suit.pk, actor=lead)
    with refused(BadInput, code="retest_failed"):
        do(action, **details | {"retest": "failed"})
    assert do(action, **details).state == "done"


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("replacement", {"removed_item_id", "installed_item_id", "retest", "retest_note"}),
        ("kit", {"kit_item", "kit_quantity", "kit_stowage", "kit_delivery"}),
    ],
)
def test_each_kind_asks_for_what_it_needs(kind, fields):
    action = make_committed(kind=kind)
    owner()
    with refused(BadInput) as caught:
        do(action)
    assert set(caught.value.fields) == fields


def test_a_procedure_change_needs_its_released_revision():
    action = make_committed(kind="procedure")
    owner()
    with refused(Missing, code="not_done"):
        do(action)
    make_released(action_id=action.pk)
    assert do(action).state == "done"


def test_a_revision_names_only_an_action_that_asks_for_one():
    action, procedure = make_committed(), make_procedure()
    with refused(BadInput, code="wrong_action"):
        draft_revision(procedure_id=procedure.pk, actor=activity_lead(), summary="So.", action_id=action.pk)


@pytest.mark.parametrize("who", ["owner", "doer"])
def test_neither_owner_nor_doer_verifies(who):
    person = make_person("verifier", "both")
    make_person("action owner", "both")
    action = make_committed()
    if who == "owner":
        action = recommit_action(
            action_id=action.pk,
            actor=board_member(),
            version=action.version,
            owner_id=person.pk,
            due_on=next_week(),
            reason="So.",
        )
    done = do_action(action_id=action.pk, actor=person, version=action.version, note="Done.")
    evidence, proof = make_evidence(done.anomaly), prove(person)
    with refused(NotAllowed, code="own_action"):
        verify(done, person, evidence_ids=[evidence.pk], proof=proof)


def test_the_signature_says_what_was_verified_by_what_and_for_which_causes():
    action = make_done()
    anomaly = action.anomaly
    filed = make_evidence(
        anomaly, kind="document", title="Log", file=upload(PDF, "log.pdf"), statement="", stated_by=""
    )
    told = make_evidence(anomaly, title="What EV1 saw")
    verify(action, evidence_ids=[told.pk, filed.pk])
    signed = SignOff.objects.of(action).get()
    (cause,) = (row.cause for row in action.addresses.all())
    assert signed.meaning == (
        f"Verified: {action.number} of {anomaly.number}, against {cause.label}, meets its acceptance criteria: "
        f"Every crew member has done it twice. Shown by {filed.label} (SHA-256 {filed.sha256}), "
        f"{told.label} (What EV1 saw)."
    )
    assert prove_ledger().is_whole


def test_no_verification_without_evidence():
    action, person = make_done(), verifier()
    proof = prove(person)
    with refused(Missing, code="not_shown"):
        verify(action, person, evidence_ids=[], proof=proof)
    verified = verify(action)
    assert verified.verifier == verifier()
    assert "acceptance criteria" in SignOff.objects.of(verified).get().meaning


def test_sent_back_it_is_done_and_shown_anew():
    action = make_done()
    send_back_action(action_id=action.pk, actor=verifier(), reason="One was ill.")
    again = do(action.reread())
    person = verifier()
    proof = prove(person)
    with refused(Missing):
        verify(again, person, evidence_ids=[], proof=proof)


def test_reopened_its_evidence_must_be_new():
    action = make_verified()
    reopened = reopen_action(action_id=action.pk, actor=board_member(), reason="It came back.")
    assert (reopened.state, reopened.verifier) == ("committed", None)
    assert not reopened.shown_by.filter(active=True, use="verified").exists()
    assert SignOff.objects.of(action).count() == 1


def test_dropped_with_a_reason_and_taken_up_again():
    action = make_proposed()
    drop_action(action_id=action.pk, actor=board_member(), reason="Too heavy.")
    with refused(WrongState):
        drop_action(action_id=action.pk, actor=board_member(), reason="Again.")
    assert reopen_action(action_id=action.pk, actor=board_member(), reason="After all.").state == "proposed"


def test_the_watch_counts_activities_that_passed_since():
    action = make_verified(watch_activities=2)
    for title in ("Sortie 7", "Sortie 8"):
        with refused(Missing, code="watch_not_over"):
            find_action_effective(action_id=action.pk, actor=board_member(), note="Nothing seen.")
        activity = make_activity(title=title)
        start_activity(activity_id=activity.pk, actor=activity_lead())
        complete_activity(activity_id=activity.pk, actor=activity_lead())
    assert read_watch(action).passed == 2
    assert find_action_effective(action_id=action.pk, actor=board_member(), note="Nothing seen.").state == "effective"


@pytest.mark.parametrize("passed", [1, 3, 22, 59])
def test_the_least_success_is_the_exact_binomial_limit(passed):
    # Source: scipy.stats.beta, one-sided Clopper-Pearson limit for `passed` successes out of `passed`.
    assert find_least_success(passed) == pytest.approx(beta.ppf(0.1, passed, 1), rel=1e-12)


def test_others_may_not():
    action, reader = make_proposed(), viewer()
    with refused(NotAllowed):
        edit_action(action_id=action.pk, actor=reader, version=1, changes={"title": "No."})
    with refused(NotAllowed):
        propose_action(anomaly_id=action.anomaly_id, actor=reader, kind="kit", title="No.")
    with refused(NotAllowed):
        drop_action(action_id=action.pk, actor=owner(), reason="No.")


def test_an_activity_that_is_over_needs_nothing():
    activity = make_activity()
    start_activity(activity_id=activity.pk, actor=activity_lead())
    complete_activity(activity_id=activity.pk, actor=activity_lead())
    cause = make_confirmed()
    with refused(BadInput, code="activity_over"):
        make_proposed(cause, needed_before_id=activity.pk)
