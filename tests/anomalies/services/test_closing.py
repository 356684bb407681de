"""An anomaly closes only when nothing is open; a recurrence opens it again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from anomalies.clock import pretending
from anomalies.errors import EditConflict, Missing
from anomalies.models import LedgerEntry, SignOff
from anomalies.services.actions import propose_action
from anomalies.services.causes import confirm_cause, rule_out_cause, state_cause
from anomalies.services.closing import close_anomaly, find_closing_gaps, reopen_anomaly
from anomalies.services.evidence import add_evidence
from anomalies.services.findings import withdraw_finding
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import draft_revision
from anomalies.services.revision_moves import withdraw_revision
from anomalies.services.screening import screen_anomaly
from anomalies.services.ties import constrain, link_anomalies, resolve_constraint
from anomalies.services.unexplained import accept_unexplained, retract_acceptance
from config.kit.errors import NotAllowed, Refused, WrongState
from tests.anomalies.actions import make_committed, make_done, make_verified, verify
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause, make_confirmed, make_finding
from tests.anomalies.people import (
    SEEN_AT,
    board_member,
    make_open,
    make_reported,
    make_type,
    recorder,
    safety_engineer,
)
from tests.anomalies.procedures import make_procedure, prove, writer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def close(anomaly, **changes):
    engineer = safety_engineer()
    given = {"actor": engineer, "version": anomaly.reread().version, "statement": "A worn seal; replaced."}
    if "proof" not in changes:
        given["proof"] = prove(given["actor"])
    return close_anomaly(anomaly_id=anomaly.pk, **given | changes)


def make_ready():
    """An anomaly with nothing open."""
    return make_verified().anomaly.reread()


def kinds(anomaly):
    return [gap.kind for gap in find_closing_gaps(anomaly)]


def test_with_nothing_open_it_closes_under_a_signature():
    anomaly = make_ready()
    closed = close(anomaly)
    assert (closed.state, closed.closed_by) == ("closed", safety_engineer())
    assert "explained" in SignOff.objects.of(closed).get().meaning


def test_nothing_was_found():
    assert kinds(make_open()) == ["anomaly"]


def test_each_open_thing_is_named_and_keeps_it_open():
    anomaly = make_ready()
    things = {
        "cause": make_cause(anomaly),
        "action": propose_action(anomaly_id=anomaly.pk, actor=board_member(), kind="kit", title="More seals"),
        "constraint": constrain(
            anomaly_id=anomaly.pk, actor=safety_engineer(), statement="None outside.", hardware_type_id=make_type().pk
        ),
        "finding": make_finding(anomaly),
        "procedure_revision": draft_revision(
            procedure_id=make_procedure().pk, actor=writer(), summary="Look twice.", anomaly_id=anomaly.pk
        ),
    }
    proof = prove(safety_engineer())
    version = anomaly.reread().version
    with refused(Missing, code="something_open") as caught:
        close_anomaly(anomaly_id=anomaly.pk, actor=safety_engineer(), version=version, statement="So.", proof=proof)
    assert {(gap.kind, gap.record_id) for gap in caught.value.gaps} == {(k, t.pk) for k, t in things.items()}
    rule_out_cause(
        cause_id=things["cause"].pk,
        actor=board_member(),
        version=1,
        rationale="By test.",
        evidence_ids=[make_evidence(anomaly).pk],
    )
    assert "cause" not in kinds(anomaly)
    resolve_constraint(constraint_id=things["constraint"].pk, actor=safety_engineer(), resolution="Replaced.")
    withdraw_finding(finding_id=things["finding"].pk, actor=board_member(), reason="No.")
    withdraw_revision(revision_id=things["procedure_revision"].pk, actor=writer(), reason="No.")
    assert kinds(anomaly) == ["action"]


@pytest.mark.parametrize("make", [make_committed, make_done])
def test_an_action_that_is_not_verified_keeps_it_open(make):
    anomaly = make().anomaly
    assert "action" in kinds(anomaly)


def test_a_confirmed_root_cause_needs_a_verified_action():
    cause = make_confirmed()
    assert kinds(cause.anomaly) == ["cause"]
    verify(make_done(cause))
    assert kinds(cause.anomaly) == []


def confirm(cause):
    shown = make_evidence(cause.anomaly)
    given = {"version": cause.version, "rationale": "Seen.", "evidence_ids": [shown.pk]}
    return confirm_cause(cause_id=cause.pk, actor=board_member(), **given)


@pytest.mark.parametrize("kind", ["contributing", "intermediate"])
def test_what_only_contributes_explains_nothing_but_leaves_the_risk_to_be_accepted(kind):
    anomaly, engineer = confirm(make_cause(kind=kind)).anomaly.reread(), safety_engineer()
    assert kinds(anomaly) == ["anomaly"]
    given = {"version": anomaly.version, "rationale": "All tried.", "proof": prove(engineer)}
    accept_unexplained(anomaly_id=anomaly.pk, actor=engineer, **given)
    assert kinds(anomaly.reread()) == []


def test_explained_after_all_the_acceptance_is_retracted_first():
    anomaly, engineer = make_open(), safety_engineer()
    given = {"version": anomaly.version, "rationale": "All tried.", "proof": prove(engineer)}
    accept_unexplained(anomaly_id=anomaly.pk, actor=engineer, **given)
    verify(make_done(confirm(make_cause(anomaly))))
    assert kinds(anomaly.reread()) == ["anomaly"]
    retract_acceptance(anomaly_id=anomaly.pk, actor=engineer, reason="The cause was found.")
    assert kinds(anomaly.reread()) == []


def test_unexplained_with_its_risk_accepted_it_closes():
    anomaly, engineer = make_open(), safety_engineer()
    accept_unexplained(
        anomaly_id=anomaly.pk, actor=engineer, version=anomaly.version, rationale="All tried.", proof=prove(engineer)
    )
    assert "unexplained" in SignOff.objects.of(close(anomaly)).last().meaning


def test_who_may_close_and_on_what_version():
    anomaly = make_ready()
    actor = board_member()
    proof = prove(actor)
    with refused(NotAllowed):
        close(anomaly, actor=actor, proof=proof)
    proof = prove(safety_engineer())
    with refused(EditConflict):
        close(anomaly, version=1, proof=proof)


def test_closed_nothing_of_it_moves():
    anomaly = close(make_ready())
    evidence = {"kind": "statement", "title": "More", "statement": "So.", "stated_by": "EV1"}
    recorder()
    with refused(WrongState):
        add_evidence(anomaly_id=anomaly.pk, actor=recorder(), **evidence)
    with refused(WrongState):
        state_cause(anomaly_id=anomaly.pk, actor=board_member(), kind="root", statement="Other.")
    with refused(WrongState):
        propose_action(anomaly_id=anomaly.pk, actor=board_member(), kind="kit", title="More.")
    procedure, author = make_procedure(), writer()
    with refused(Refused, code="anomaly_closed"):
        draft_revision(procedure_id=procedure.pk, actor=author, summary="So.", anomaly_id=anomaly.pk)


def test_reopened_with_a_reason_and_the_closing_stays_on_record():
    anomaly = close(make_ready())
    reopened = reopen_anomaly(anomaly_id=anomaly.pk, actor=board_member(), reason="Seen again on the ground.")
    assert (reopened.state, reopened.closed_at) == ("open", None)
    actions = LedgerEntry.objects.of("anomaly", anomaly.pk).values_list("action", flat=True)
    assert list(actions)[-2:] == ["anomaly.close", "anomaly.reopen"]
    assert SignOff.objects.of(anomaly).count() == 1


def test_a_recurrence_opens_it_again_with_its_actions():
    anomaly = close(make_ready())
    later = make_reported(occurred_at=SEEN_AT + timedelta(days=40))
    link_anomalies(source_id=later.pk, target_id=anomaly.pk, kind="recurrence", actor=board_member())
    assert anomaly.reread().state == "open"
    assert anomaly.actions.get().state == "committed"
    last = LedgerEntry.objects.of("anomaly", anomaly.pk).last()
    assert (last.actor_name, last.reason) == ("system", f"It came back as {later.number}.")


def test_a_recurrence_of_an_open_one_opens_the_actions_that_were_verified_before_it():
    action = make_verified()
    anomaly, at = action.anomaly, action.verified_at
    with pretending(at + timedelta(days=3)):
        later_fix = make_verified(make_confirmed(anomaly))
        again = make_reported(occurred_at=at + timedelta(days=1))
        link_anomalies(source_id=again.pk, target_id=anomaly.pk, kind="recurrence", actor=board_member())
    assert anomaly.reread().state == "open"
    opened = action.reread()
    assert (opened.state, opened.state_reason) == ("committed", f"It came back as {again.number}.")
    assert later_fix.reread().state == "verified"  # it came after the recurrence, which says nothing of it
    assert prove_ledger().is_whole


def test_what_recurred_after_an_action_was_done_is_neither_verified_nor_stays_so():
    done = make_done()
    with pretending(done.done_at + timedelta(days=5)):
        again = make_reported(occurred_at=done.done_at + timedelta(days=2))
        verified = verify(done)
        link_anomalies(source_id=again.pk, target_id=done.anomaly_id, kind="recurrence", actor=board_member())
        assert verified.reread().state == "committed"  # it was verified after the recurrence, but done before it
    other = make_done()
    with pretending(other.done_at + timedelta(days=5)):
        later = make_reported(occurred_at=other.done_at + timedelta(days=2))
        link_anomalies(source_id=later.pk, target_id=other.anomaly_id, kind="recurrence", actor=board_member())
        with pytest.raises(Missing) as caught:
            verify(other)
    assert [(gap.kind, gap.record_id) for gap in caught.value.gaps] == [("anomaly", later.pk)]


def test_another_link_leaves_it_closed():
    anomaly = close(make_ready())
    later = make_reported(occurred_at=SEEN_AT + timedelta(days=40))
    link_anomalies(source_id=later.pk, target_id=anomaly.pk, kind="related", actor=board_member())
    assert anomaly.reread().state == "closed"


def test_it_is_screened_before_anything_is_found():
    reported = make_reported()
    with refused(WrongState):
        state_cause(anomaly_id=reported.pk, actor=board_member(), kind="root", statement="So.")
    screened = screen_anomaly(
        anomaly_id=reported.pk,
        actor=safety_engineer(),
        severity=2,
        probability="C",
        rationale="So.",
        lead_id=board_member().pk,
    )
    assert state_cause(anomaly_id=screened.pk, actor=board_member(), kind="root", statement="So.").label == "C1"
