"""Causes hang together, stand on something, and are judged with a reason."""

from __future__ import annotations

import pytest

from anomalies.errors import EditConflict, Missing
from anomalies.models import SignOff
from anomalies.services.causes import (
    MOST_LEVELS,
    confirm_cause,
    edit_cause,
    find_cause_credible,
    reconsider_cause,
    rest_cause_on,
    rule_out_cause,
)
from anomalies.services.findings import withdraw_finding
from anomalies.services.unexplained import accept_unexplained, retract_acceptance
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_adopted, make_cause, make_confirmed, make_finding
from tests.anomalies.people import board_member, make_open, safety_engineer, viewer
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused
from tests.anomalies.web.pages import log_in
from tests.faulttree.people import make_revision

pytestmark = pytest.mark.django_db
JUDGEMENTS = (find_cause_credible, rule_out_cause, confirm_cause)


def judge(service, cause, **changes):
    given = {"version": cause.version, "rationale": "By test."}
    return service(cause_id=cause.pk, actor=board_member(), **given | changes)


@pytest.mark.parametrize("service", JUDGEMENTS)
def test_a_judgement_needs_a_rationale_and_something_to_stand_on(service):
    cause = make_cause()
    evidence = make_evidence(cause.anomaly)
    with refused(BadInput):
        judge(service, cause, rationale="", evidence_ids=[evidence.pk])
    with refused(Missing, code="no_support"):
        judge(service, cause)
    judged = judge(service, cause, evidence_ids=[evidence.pk])
    assert judged.judged_by == board_member()


def test_a_proposed_finding_is_nothing_to_stand_on_and_an_adopted_one_is():
    anomaly = make_open()
    cause = make_cause(anomaly, finding_ids=[make_finding(anomaly).pk])
    with refused(Missing):
        judge(confirm_cause, cause)
    finding = make_adopted(anomaly)
    rest_cause_on(cause_id=cause.pk, actor=board_member(), version=cause.version, finding_ids=[finding.pk])
    assert judge(confirm_cause, cause.reread()).state == "confirmed"
    with refused(Missing, code="rested_on"):
        withdraw_finding(finding_id=finding.pk, actor=board_member(), reason="Wrong.")


def test_the_why_chain_has_no_circle():
    anomaly = make_open()
    first = make_cause(anomaly)
    second = make_cause(anomaly, kind="root", parent_id=first.pk)
    with refused(Refused, code="cause_circle"):
        edit_cause(cause_id=first.pk, actor=board_member(), version=1, changes={"parent_id": second.pk})
    other = make_cause()
    with refused(BadInput, code="not_ours"):
        edit_cause(cause_id=first.pk, actor=board_member(), version=1, changes={"parent_id": other.pk})


def test_a_why_chain_ends_somewhere():
    anomaly = make_open()
    chain = [make_cause(anomaly)]
    for _ in range(MOST_LEVELS - 1):
        chain.append(make_cause(anomaly, kind="root", parent_id=chain[-1].pk))
    with refused(BadInput, code="too_deep"):
        make_cause(anomaly, kind="root", parent_id=chain[-1].pk)
    with refused(Refused, code="cause_circle"):
        edit_cause(cause_id=chain[0].pk, actor=board_member(), version=1, changes={"parent_id": chain[-1].pk})
    above = make_cause(anomaly)
    with refused(BadInput, code="too_deep"):  # the whole chain would hang below it
        edit_cause(cause_id=chain[0].pk, actor=board_member(), version=1, changes={"parent_id": above.pk})
    page = log_in(viewer()).get(anomaly.get_absolute_url()).content.decode()
    assert page.count('class="why__item"') == MOST_LEVELS + 1


def test_a_cause_may_stand_for_an_event_of_a_tree():
    tree = make_revision(safety_engineer()).tree
    cause = make_cause(tree_id=tree.pk, event_code="pump-1")
    assert (cause.tree, cause.event_code) == (tree, "pump-1")
    with refused(BadInput, code="unknown_event"):
        make_cause(cause.anomaly, tree_id=tree.pk, event_code="pump-9")
    with refused(BadInput, code="no_tree"):
        make_cause(cause.anomaly, event_code="pump-1")


def test_a_risk_is_accepted_once_and_retracted_once():
    anomaly, engineer = make_open(), safety_engineer()
    with refused(Refused, code="not_accepted"):
        retract_acceptance(anomaly_id=anomaly.pk, actor=engineer, reason="A new lead.")
    given = {"anomaly_id": anomaly.pk, "actor": engineer, "rationale": "Nothing more can be learnt."}
    accepted = accept_unexplained(**given, version=anomaly.version, proof=prove(engineer))
    with refused(Refused, code="accepted_already"):
        accept_unexplained(**given, version=accepted.version, proof=prove(engineer))


def test_evidence_and_findings_of_another_anomaly_are_refused():
    cause, evidence, finding = make_cause(), make_evidence(), make_finding()
    with refused(BadInput, code="not_ours"):
        judge(confirm_cause, cause, evidence_ids=[evidence.pk])
    with refused(BadInput, code="not_ours"):
        rest_cause_on(cause_id=cause.pk, actor=board_member(), version=cause.version, finding_ids=[finding.pk])


def test_an_event_needs_its_tree():
    anomaly = make_open()
    with refused(BadInput, code="no_tree"):
        make_cause(anomaly, event_code="seal-worn")


def test_reconsidered_it_is_open_without_a_judgement():
    cause = make_confirmed()
    assert reconsider_cause(cause_id=cause.pk, actor=board_member(), reason="New test.").state == "open"
    assert cause.reread().rationale == ""
    with refused(WrongState):
        reconsider_cause(cause_id=cause.pk, actor=board_member(), reason="Again.")


def test_a_judgement_on_a_version_that_changed_is_a_conflict():
    cause = make_cause()
    evidence = make_evidence(cause.anomaly)
    edit_cause(cause_id=cause.pk, actor=board_member(), version=1, changes={"statement": "Other."})
    with refused(EditConflict):
        judge(confirm_cause, cause, evidence_ids=[evidence.pk])


def accept(anomaly, actor):
    proof = prove(actor)
    version = anomaly.reread().version
    return lambda: accept_unexplained(
        anomaly_id=anomaly.pk, actor=actor, version=version, rationale="All tried.", proof=proof
    )


def test_unexplained_only_with_every_cause_judged_and_none_confirmed():
    cause = make_cause()
    engineer = safety_engineer()
    attempt = accept(cause.anomaly, engineer)
    with refused(Missing, code="not_unexplained"):
        attempt()
    judge(rule_out_cause, cause, evidence_ids=[make_evidence(cause.anomaly).pk])
    accepted = attempt()
    assert accepted.unexplained_by == engineer
    assert "2C" in SignOff.objects.of(accepted).get().meaning
    retract_acceptance(anomaly_id=accepted.pk, actor=engineer, reason="A new lead.")
    assert accepted.reread().unexplained_at is None


def test_a_confirmed_cause_is_an_explanation():
    attempt = accept(make_confirmed().anomaly, safety_engineer())
    with refused(Missing):
        attempt()


def test_others_may_not():
    cause = make_cause()
    reader = viewer()
    with refused(NotAllowed):
        edit_cause(cause_id=cause.pk, actor=reader, version=1, changes={"statement": "No."})
    attempt = accept(cause.anomaly, board_member())
    with refused(NotAllowed):
        attempt()


@pytest.mark.parametrize("service", JUDGEMENTS)
def test_a_judged_cause_is_neither_reworded_nor_rested_elsewhere(service):
    finding = make_adopted()
    cause = judge(service, make_cause(finding.anomaly, finding_ids=[finding.pk]))
    given = {"cause_id": cause.pk, "actor": board_member(), "version": cause.version}
    with refused(WrongState):
        rest_cause_on(**given, finding_ids=[])
    with refused(WrongState):
        edit_cause(**given, changes={"statement": "Another."})
    assert [row.finding for row in cause.rests_on.filter(active=True)] == [finding]
