"""Whatever people try, in whatever order: an anomaly that is closed has nothing open.

The rules are written here a second time, from the tables alone, and not taken from the service that enforces them.
"""

from __future__ import annotations

from collections import Counter

import pytest
from django.db.models import F, Q
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from anomalies.clock import now
from anomalies.models import (
    Anomaly,
    Cause,
    Constraint,
    CorrectiveAction,
    Finding,
    HardwareType,
    ProcedureRevision,
)
from anomalies.permissions import ROLES
from anomalies.services import action_work, actions, board, causes, closing, evidence, findings, ties, unexplained
from anomalies.services import verification as checking
from anomalies.services.anomalies import report_anomaly
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import draft_revision
from anomalies.services.revision_moves import withdraw_revision
from anomalies.services.sign_off import PasswordProof
from config.kit.errors import DomainError
from tests.anomalies.actions import next_week
from tests.anomalies.files import make_evidence
from tests.anomalies.people import SEEN_AT, make_open, make_person, make_type
from tests.anomalies.procedures import make_procedure
from tests.anomalies.refusals import everything

REACHED: Counter[str] = Counter()
"""How often the examples got anywhere: a test whose calls are all refused would prove nothing."""


def allrounders():
    """Two people with every role: owner and verifier must differ."""
    for role in ROLES:
        first, second = make_person(role, "first"), make_person(role, "second")
    return first, second


def prove(person):
    return PasswordProof(person.pk, now())


def pick(rows, number):
    """One of the rows, by a number that may be beyond them; None if there are none."""
    keys = list(rows.order_by("pk"))
    return keys[number % len(keys)] if keys else None


def keys(anomaly):
    return list(anomaly.evidence.held().values_list("pk", flat=True))


def find(a, me, n):
    findings.propose_finding(anomaly_id=a.pk, actor=me, kind="finding", statement="So.", evidence_ids=keys(a)[:1])


def stand(a, me, n):
    if row := pick(a.findings, n):
        findings.state_position(finding_id=row.pk, actor=me, stand="concurs", wording=row.wording)


def adopt(a, me, n):
    if row := pick(a.findings, n):
        findings.adopt_finding(finding_id=row.pk, actor=me, version=row.version, proof=prove(me))


def drop_finding(a, me, n):
    if row := pick(a.findings, n):
        findings.withdraw_finding(finding_id=row.pk, actor=me, reason="No.")


def state(a, me, n):
    kind = ("proximate", "root", "contributing")[n % 3]
    causes.state_cause(anomaly_id=a.pk, actor=me, kind=kind, statement="So.")


def judge(service):
    def call(a, me, n):
        if row := pick(a.causes, n):
            service(cause_id=row.pk, actor=me, version=row.version, rationale="So.", evidence_ids=keys(a)[:1])

    return call


def reconsider(a, me, n):
    if row := pick(a.causes, n):
        causes.reconsider_cause(cause_id=row.pk, actor=me, reason="So.")


def propose(a, me, n):
    chosen = [row.pk for row in a.causes.all()[: n + 1]]
    given = {"kind": "training", "title": "Train", "acceptance_criteria": "Done.", "cause_ids": chosen}
    actions.propose_action(anomaly_id=a.pk, actor=me, **given)


def commit(a, me, n):
    if row := pick(a.actions, n):
        actions.commit_action(action_id=row.pk, actor=me, version=row.version, owner_id=me.pk, due_on=next_week())


def do(a, me, n):
    if row := pick(a.actions, n):
        action_work.do_action(action_id=row.pk, actor=me, version=row.version, note="Done.")


def verify(a, me, n):
    if row := pick(a.actions, n):
        checking.verify_action(
            action_id=row.pk, actor=me, version=row.version, note="So.", evidence_ids=keys(a)[:1], proof=prove(me)
        )


def send_back(a, me, n):
    if row := pick(a.actions, n):
        checking.send_back_action(action_id=row.pk, actor=me, reason="No.")


def drop(a, me, n):
    if row := pick(a.actions, n):
        actions.drop_action(action_id=row.pk, actor=me, reason="No.")


def redo(a, me, n):
    if row := pick(a.actions, n):
        actions.reopen_action(action_id=row.pk, actor=me, reason="No.")


def hold(a, me, n):
    ties.constrain(anomaly_id=a.pk, actor=me, statement="Not outside.", hardware_type_id=HardwareType.objects.get().pk)


def free(a, me, n):
    if row := pick(a.constraints, n):
        ties.resolve_constraint(constraint_id=row.pk, actor=me, resolution="Replaced.")


def bind(a, me, n):
    if row := pick(a.constraints, n):
        ties.reinstate_constraint(constraint_id=row.pk, actor=me, reason="No.")


def revise(a, me, n):
    procedure = make_procedure(title=f"Procedure {n}")
    draft_revision(procedure_id=procedure.pk, actor=me, summary="So.", anomaly_id=a.pk)


def unrevise(a, me, n):
    if row := pick(a.procedure_revisions, n):
        withdraw_revision(revision_id=row.pk, actor=me, reason="No.")


def unsupport(a, me, n):
    if row := pick(a.evidence, n):
        evidence.withdraw_evidence(evidence_id=row.pk, actor=me, reason="No.")


def accept(a, me, n):
    unexplained.accept_unexplained(
        anomaly_id=a.pk, actor=me, version=a.reread().version, rationale="So.", proof=prove(me)
    )


def retract(a, me, n):
    unexplained.retract_acceptance(anomaly_id=a.pk, actor=me, reason="No.")


def close(a, me, n):
    closing.close_anomaly(anomaly_id=a.pk, actor=me, version=a.reread().version, statement="So.", proof=prove(me))


def reopen(a, me, n):
    closing.reopen_anomaly(anomaly_id=a.pk, actor=me, reason="No.")


def recur(a, me, n):
    later = report_anomaly(actor=me, title="Again", occurred_at=SEEN_AT)
    ties.link_anomalies(source_id=later.pk, target_id=a.pk, kind="recurrence", actor=me)


CALLS = {
    "find": find,
    "stand": stand,
    "adopt": adopt,
    "drop_finding": drop_finding,
    "state": state,
    "credible": judge(causes.find_cause_credible),
    "rule_out": judge(causes.rule_out_cause),
    "confirm": judge(causes.confirm_cause),
    "reconsider": reconsider,
    "propose": propose,
    "commit": commit,
    "do": do,
    "verify": verify,
    "send_back": send_back,
    "drop": drop,
    "redo": redo,
    "hold": hold,
    "free": free,
    "bind": bind,
    "revise": revise,
    "unrevise": unrevise,
    "unsupport": unsupport,
    "accept": accept,
    "retract": retract,
    "close": close,
    "reopen": reopen,
    "recur": recur,
}
ONE = st.tuples(st.sampled_from(sorted(CALLS)), st.integers(0, 2), st.booleans())
LIKELY = (  # the way to a closing, so that the examples get there often
    [("accept", 0, True), ("close", 0, True)],
    [("state", 1, True), ("confirm", 0, True), ("propose", 2, True), ("commit", 0, True), ("do", 0, True)],
    [("verify", 0, False), ("close", 0, True)],
)
STEPS = st.lists(ONE.map(lambda one: [one]) | st.sampled_from(LIKELY), max_size=14).map(
    lambda parts: [one for part in parts for one in part]
)


def check_closed(anomaly):
    """What must be so of a closed anomaly."""
    assert not Cause.objects.filter(anomaly=anomaly, state="open").exists()
    settled = Q(state__in=("verified", "effective", "dropped"))
    assert not CorrectiveAction.objects.filter(~settled, anomaly=anomaly).exists()
    assert not Constraint.objects.filter(anomaly=anomaly, state="in_force").exists()
    assert not Finding.objects.filter(anomaly=anomaly, state="proposed").exists()
    undecided = ("drafted", "submitted", "approved")
    assert not ProcedureRevision.objects.filter(anomaly=anomaly, state__in=undecided).exists()
    confirmed = Cause.objects.filter(anomaly=anomaly, state="confirmed", kind__in=("root", "proximate"))
    assert confirmed.exists() != bool(anomaly.unexplained_at)
    weighty = confirmed.filter(kind="root") or confirmed.filter(kind="proximate")
    for cause in weighty:
        rows = CorrectiveAction.objects.filter(addresses__cause=cause, addresses__active=True)
        assert rows.filter(state__in=("verified", "effective")).exists()


def check_always():
    """What must be so at every moment."""
    verified = CorrectiveAction.objects.filter(state__in=("verified", "effective"))
    assert not verified.filter(Q(verifier=F("owner")) | Q(verifier=F("doer"))).exists()
    for action in verified:
        assert action.shown_by.filter(active=True, use="verified", evidence__state="held").exists()
    for cause in Cause.objects.exclude(state="open"):
        on_finding = cause.rests_on.filter(active=True, finding__state="adopted").exists()
        assert on_finding or cause.judged_on.filter(active=True, evidence__state="held").exists()
    for row in Finding.objects.filter(state="adopted"):
        assert row.rests_on.filter(active=True, evidence__state="held").exists()
    for anomaly in Anomaly.objects.filter(state="closed"):
        check_closed(anomaly)


@pytest.mark.slow
@pytest.mark.database  # a class of unittest has no fixture to tell it by
class Closing(TestCase):
    """Each example starts from one open anomaly with two pieces of evidence and a board."""

    @settings(max_examples=60, suppress_health_check=list(HealthCheck))
    @given(STEPS)
    def test_a_closed_anomaly_has_nothing_open(self, steps):
        first, second = allrounders()
        make_type()
        anomaly = make_open()
        make_evidence(anomaly)
        make_evidence(anomaly)
        board.seat_member(anomaly_id=anomaly.pk, actor=first, person_id=first.pk)
        for name, number, is_first in steps:
            before = everything()
            try:
                CALLS[name](anomaly.reread(), first if is_first else second, number)
            except DomainError:
                assert everything() == before or name == "revise"  # which makes a procedure of its own first
            else:
                REACHED[name] += 1
            check_always()
        assert prove_ledger().is_whole

    @classmethod
    def tearDownClass(cls):
        super().tearDownClass()
        assert REACHED["close"] >= 5, REACHED
        assert REACHED["verify"] >= 1, REACHED
