"""Whatever happens to evidence, findings and causes, in any order: nothing that stands loses what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from django.contrib.auth.models import User
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from anomalies.models import Anomaly, Cause, Evidence, Finding
from anomalies.permissions import ROLES
from anomalies.services import board, causes, evidence, findings
from anomalies.services.ledger_proof import prove_ledger
from anomalies.states import CauseState, EvidenceState, FindingState
from config.kit.errors import DomainError
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import prove
from tests.anomalies.people import make_open, make_person
from tests.anomalies.refusals import everything

CALLS = (
    *("gather", "propose", "state", "rest_finding", "rest_cause", "adopt", "send_back", "withdraw_finding"),
    *("withdraw_evidence", "withdraw_evidence", "confirm", "find_credible", "rule_out", "reconsider"),
)
JUDGE = {
    "confirm": causes.confirm_cause,
    "find_credible": causes.find_cause_credible,
    "rule_out": causes.rule_out_cause,
}
WHY = {"reason": "By test."}
FEW = st.integers(1, 3)


def everybody() -> User:
    for role in ROLES:
        person = make_person(role, "everybody")
    return person


def nth(model, number):
    """The nth row; none, where there are fewer."""
    return model.objects.order_by("pk")[number - 1 : number].first()


def keys_of(model, numbers: Sequence[int]) -> list[int]:
    return [row.pk for row in (nth(model, number) for number in numbers) if row]


def call(name: str, number: int, others: Sequence[int], actor: User) -> None:
    """Try one thing; what has nothing to be tried on is left out."""
    anomaly = Anomaly.objects.get()
    piece, finding, cause = (nth(model, number) for model in (Evidence, Finding, Cause))
    pieces, rest = keys_of(Evidence, others), keys_of(Finding, others)
    here = {"anomaly_id": anomaly.pk, "actor": actor}
    if name == "gather":
        make_evidence(anomaly)
    elif name == "propose":
        findings.propose_finding(**here, kind="finding", statement="It was cold.", evidence_ids=pieces)
    elif name == "state":
        causes.state_cause(**here, kind="root", statement="The seal.", finding_ids=rest)
    elif name == "withdraw_evidence" and piece:
        evidence.withdraw_evidence(evidence_id=piece.pk, actor=actor, **WHY)
    elif name == "rest_finding" and finding:
        findings.rest_finding_on(finding_id=finding.pk, actor=actor, version=finding.version, evidence_ids=pieces)
    elif name == "adopt" and finding:
        findings.state_position(finding_id=finding.pk, actor=actor, stand="concurs", wording=finding.wording)
        seen = {"version": Finding.objects.get(pk=finding.pk).version, "proof": prove(actor)}
        findings.adopt_finding(finding_id=finding.pk, actor=actor, **seen)
    elif name in ("send_back", "withdraw_finding") and finding:
        move = findings.send_back_finding if name == "send_back" else findings.withdraw_finding
        move(finding_id=finding.pk, actor=actor, **WHY)
    elif name == "rest_cause" and cause:
        causes.rest_cause_on(cause_id=cause.pk, actor=actor, version=cause.version, finding_ids=rest)
    elif name == "reconsider" and cause:
        causes.reconsider_cause(cause_id=cause.pk, actor=actor, **WHY)
    elif name in JUDGE and cause:
        judged = {"version": cause.version, "rationale": "By test.", "evidence_ids": pieces}
        JUDGE[name](cause_id=cause.pk, actor=actor, **judged)


@pytest.mark.slow
@pytest.mark.database  # a class of unittest has no fixture to tell it by
class AnyOrder(TestCase):
    """Each example starts from a credible cause on an adopted finding on one of two pieces of evidence."""

    @settings(max_examples=80, deadline=None)
    @given(st.lists(st.tuples(st.sampled_from(CALLS), FEW, st.lists(FEW, max_size=2, unique=True)), max_size=25))
    def test_what_stands_keeps_something_to_rest_on(self, calls):
        actor, anomaly = everybody(), make_open()
        make_evidence(anomaly)
        make_evidence(anomaly)
        board.seat_member(anomaly_id=anomaly.pk, actor=actor, person_id=actor.pk)
        begin = [("propose", 1, [1]), ("adopt", 1, []), ("state", 1, [1]), ("find_credible", 1, [])]
        self.check([*begin, *calls], actor)
        assert Cause.objects.get(position=1).version > 1
        assert prove_ledger().is_whole

    def check(self, calls, actor):
        for arguments in calls:
            before = everything()
            try:
                call(*arguments, actor)
            except DomainError:
                assert arguments[0] == "adopt" or everything() == before  # adopting is two moves here
            for finding in Finding.objects.exclude(state=FindingState.WITHDRAWN):
                assert finding.rests_on.filter(active=True, evidence__state=EvidenceState.HELD).exists()
            for cause in Cause.objects.exclude(state=CauseState.OPEN):
                on_evidence = cause.judged_on.filter(active=True, evidence__state=EvidenceState.HELD)
                on_findings = cause.rests_on.filter(active=True, finding__state=FindingState.ADOPTED)
                assert on_evidence.exists() or on_findings.exists()
