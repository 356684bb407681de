"""What the board holds of events stands on something, and is judged on the figures that were read."""

from __future__ import annotations

import pytest

from anomalies.errors import EditConflict, Missing
from anomalies.models import LedgerEntry
from anomalies.services.dispositions import judge_events
from anomalies.services.evidence import withdraw_evidence
from anomalies.services.findings import send_back_finding, withdraw_finding
from config.kit.errors import BadInput, NotAllowed
from tests.anomalies.fault_trees import enter, held, judge, make_investigation
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_adopted, make_finding
from tests.anomalies.people import board_member, recorder, viewer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def test_events_and_gates_are_judged_together():
    investigation = make_investigation()
    judged = judge(investigation, "ruled_out", "both", "valve")
    rows = {row.event: row for row in judged.dispositions.all()}
    assert rows.keys() == {"both", "valve"}
    for row in rows.values():
        assert (row.state, row.rationale, row.judged_by) == ("ruled_out", "By test.", board_member())
        assert [each.evidence_id for each in row.judged_on.filter(active=True)] == held(investigation)
    assert judged.version == investigation.version + 1


def test_judged_anew_the_row_is_the_same_and_rests_on_the_new():
    investigation = make_investigation()
    judge(investigation, "credible", "valve")
    first = investigation.dispositions.get()
    other = make_evidence(investigation.anomaly)
    judge(investigation, "confirmed", "valve", evidence_ids=[other.pk], rationale="It stuck again.")
    row = investigation.dispositions.get()
    assert (row.pk, row.state, row.rationale) == (first.pk, "confirmed", "It stuck again.")
    assert [each.evidence_id for each in row.judged_on.filter(active=True)] == [other.pk]
    told = [entry.action for entry in LedgerEntry.objects.of("disposition", row.pk).order_by("sequence")]
    assert told == ["disposition.credible", "disposition.confirmed"]


@pytest.mark.parametrize(
    ("state", "events", "changes", "code", "field"),
    [
        ("likely", ["valve"], {}, "no_state", "disposition"),
        ("credible", ["valve"], {"rationale": " "}, "", "rationale"),
        ("credible", [], {}, "no_events", "events"),
        ("credible", ["valve", "tap"], {}, "unknown_event", "events"),
        ("credible", ["no-flow"], {}, "top_event", "events"),
        ("ruled_out", ["valve"], {"evidence_ids": []}, "no_support", "evidence_ids"),
        ("confirmed", ["valve"], {"evidence_ids": []}, "no_support", "evidence_ids"),
        ("credible", ["valve"], {"evidence_ids": [0]}, "not_ours", "evidence_ids"),
        ("credible", ["valve"], {"finding_ids": [0]}, "not_ours", "finding_ids"),
    ],
)
def test_what_can_not_be_judged_is_refused(state, events, changes, code, field):
    investigation = make_investigation()
    given = {"evidence_ids": [make_evidence(investigation.anomaly).pk]}
    with refused(BadInput, code=code) as caught:
        judge(investigation, state, *events, **given | changes)
    assert list(caught.value.fields) == [field]


def test_credible_needs_nothing_to_stand_on():
    assert judge(make_investigation(), "credible", "valve", evidence_ids=[]).dispositions.get().state == "credible"


def test_evidence_of_another_anomaly_carries_nothing():
    investigation, foreign = make_investigation(), make_evidence()
    with refused(BadInput, code="not_ours"):
        judge(investigation, "ruled_out", "valve", evidence_ids=[foreign.pk])
    adopted = make_adopted()
    with refused(BadInput, code="not_ours"):
        judge(investigation, "ruled_out", "valve", evidence_ids=[], finding_ids=[adopted.pk])


def test_only_an_adopted_finding_rules_out_or_confirms():
    investigation = make_investigation()
    proposed = make_finding(investigation.anomaly)
    with refused(BadInput, code="not_adopted"):
        judge(investigation, "ruled_out", "valve", evidence_ids=[], finding_ids=[proposed.pk])
    adopted = make_adopted(investigation.anomaly)
    judge(investigation, "ruled_out", "valve", evidence_ids=[], finding_ids=[adopted.pk])
    assert investigation.dispositions.get().rests_on.get().finding == adopted


def test_who_judges_on_figures_that_changed_is_told():
    investigation = make_investigation()
    enter(investigation, "pump-1", "ratio", ratio=3.0)
    evidence = make_evidence(investigation.anomaly)
    with refused(EditConflict):
        judge(investigation, "ruled_out", "valve", version=investigation.version, evidence_ids=[evidence.pk])


def test_who_may_not_is_refused_before_anything_is_looked_at():
    investigation = make_investigation()
    with refused(NotAllowed):
        judge_events(
            investigation_id=investigation.pk, actor=viewer(), version=0, events=[], disposition="", rationale=""
        )


def withdraw(evidence_id):
    return withdraw_evidence(evidence_id=evidence_id, actor=recorder(), reason="The wrong unit.")


def test_evidence_that_carries_a_disposition_is_not_withdrawn():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "valve")
    (only,) = held(investigation)
    with refused(Missing) as caught:
        withdraw(only)
    assert [gap.kind for gap in caught.value.gaps] == ["disposition"]
    judge(investigation, "ruled_out", "valve", evidence_ids=[only, make_evidence(investigation.anomaly).pk])
    assert withdraw(only).state == "withdrawn"


def test_evidence_under_a_credible_event_can_be_withdrawn():
    investigation = make_investigation()
    judge(investigation, "credible", "valve")
    assert withdraw(held(investigation)[0]).state == "withdrawn"


@pytest.mark.parametrize("end", [withdraw_finding, send_back_finding])
def test_a_finding_that_carries_a_disposition_stays(end):
    investigation = make_investigation()
    adopted = make_adopted(investigation.anomaly)
    judge(investigation, "confirmed", "valve", evidence_ids=[], finding_ids=[adopted.pk])
    with refused(Missing, code="rested_on") as caught:
        end(finding_id=adopted.pk, actor=board_member(), reason="Wrong.")
    assert [(gap.kind, gap.text) for gap in caught.value.gaps] == [
        ("disposition", "valve was judged on F1 alone: judge it anew first.")
    ]
    judge(investigation, "confirmed", "valve", finding_ids=[adopted.pk])  # on evidence besides
    assert end(finding_id=adopted.pk, actor=board_member(), reason="Wrong.").state != "adopted"


def test_of_two_that_carry_a_disposition_the_last_one_stays():
    investigation = make_investigation()
    adopted = make_adopted(investigation.anomaly)
    evidence = make_evidence(investigation.anomaly)
    judge(investigation, "confirmed", "valve", evidence_ids=[evidence.pk], finding_ids=[adopted.pk])
    withdraw(evidence.pk)
    with refused(Missing, code="rested_on"):
        withdraw_finding(finding_id=adopted.pk, actor=board_member(), reason="Wrong.")
