"""Findings rest on evidence; the board stands for or against them; adopting is signed."""

from __future__ import annotations

import pytest

from anomalies.errors import EditConflict, Missing
from anomalies.models import SignOff
from anomalies.services.board import seat_member, unseat_member
from anomalies.services.evidence import withdraw_evidence
from anomalies.services.findings import (
    adopt_finding,
    edit_finding,
    propose_finding,
    rest_finding_on,
    send_back_finding,
    state_position,
    withdraw_finding,
)
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_adopted, make_finding, seat, second_member
from tests.anomalies.people import board_member, make_open, make_reported, recorder, safety_engineer, viewer
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def concur(finding, member, **changes):
    given = {"stand": "concurs", "wording": finding.wording}
    return state_position(finding_id=finding.pk, actor=member, **given | changes)


def adopt(finding, actor):
    return adopt_finding(finding_id=finding.pk, actor=actor, version=finding.reread().version, proof=prove(actor))


def test_a_finding_rests_on_evidence_of_its_anomaly():
    anomaly, other = make_open(), make_evidence()
    actor = board_member()
    for evidence_ids in ([], [other.pk]):
        with refused(BadInput, code="no_evidence"):
            propose_finding(
                anomaly_id=anomaly.pk, actor=actor, kind="finding", statement="So.", evidence_ids=evidence_ids
            )


def test_it_needs_an_open_anomaly():
    reported = make_reported()
    evidence = make_evidence(reported)
    board_member()
    with refused(WrongState):
        make_finding(reported, evidence_ids=[evidence.pk])


def test_the_last_evidence_stays():
    finding = make_finding()
    first = finding.rests_on.get().evidence_id
    second = make_evidence(finding.anomaly).pk
    rest_finding_on(finding_id=finding.pk, actor=board_member(), version=1, evidence_ids=[second])
    assert list(finding.rests_on.filter(active=True).values_list("evidence_id", flat=True)) == [second]
    withdraw_evidence(evidence_id=first, actor=recorder(), reason="Not needed.")
    with refused(BadInput):
        rest_finding_on(finding_id=finding.pk, actor=board_member(), version=2, evidence_ids=[])


def test_other_evidence_is_another_wording_so_that_nobody_has_concurred_with_it():
    finding = make_finding()
    seat(finding.anomaly)
    concur(finding, board_member())
    actor, second = board_member(), make_evidence(finding.anomaly)
    proof = prove(actor)
    changed = rest_finding_on(finding_id=finding.pk, actor=actor, version=1, evidence_ids=[second.pk])
    assert (changed.wording, changed.version) == (2, 2)
    with refused(Missing, code="not_ready"):
        adopt_finding(finding_id=finding.pk, actor=actor, version=2, proof=proof)
    with refused(EditConflict):
        rest_finding_on(finding_id=finding.pk, actor=actor, version=1, evidence_ids=[second.pk])
    concur(changed, actor)
    adopt(changed, actor)
    assert "resting on E2," in SignOff.objects.of(finding).get().meaning


def test_only_the_board_takes_positions():
    finding = make_finding()
    outsider = second_member()
    seat(finding.anomaly)
    with refused(NotAllowed):
        concur(finding, outsider)
    assert concur(finding, board_member()).stand == "concurs"


def test_a_dissent_gives_its_grounds():
    finding = make_finding()
    seat(finding.anomaly)
    with refused(BadInput):
        concur(finding, board_member(), stand="dissents")
    assert concur(finding, board_member(), stand="dissents", text="Cold was ruled out.").text


def test_everybody_must_have_spoken_on_this_wording():
    finding, second = make_finding(), second_member()
    seat(finding.anomaly, board_member(), second)
    concur(finding, board_member())
    actor = board_member()
    proof = prove(actor)
    with refused(Missing, code="not_ready") as caught:
        adopt_finding(finding_id=finding.pk, actor=actor, version=1, proof=proof)
    assert [gap.text for gap in caught.value.gaps] == ["second-member hasn't said where they stand on this wording."]
    concur(finding, second, stand="dissents", text="Too few samples.")
    edited = edit_finding(finding_id=finding.pk, actor=actor, version=1, changes={"statement": "The seal was worn."})
    with refused(Missing) as caught:
        adopt_finding(finding_id=finding.pk, actor=actor, version=2, proof=proof)
    assert len(caught.value.gaps) == 3
    with refused(Refused, code="other_wording"):
        concur(finding, second)
    concur(edited, actor)
    concur(edited, second, stand="dissents", text="Still too few.")
    assert adopt(edited, actor).state == "adopted"
    assert "1 dissenting" in SignOff.objects.of(finding).get().meaning


def test_a_board_is_needed():
    finding = make_finding()
    actor = board_member()
    proof = prove(actor)
    with refused(Missing, match="adopted"):
        adopt_finding(finding_id=finding.pk, actor=actor, version=1, proof=proof)


def test_a_dissent_can_come_after_adoption():
    finding = make_adopted()
    assert concur(finding, board_member(), stand="dissents", text="New data.").stand == "dissents"


def test_adopted_it_is_not_edited_until_sent_back():
    finding = make_adopted()
    with refused(WrongState):
        edit_finding(
            finding_id=finding.pk, actor=board_member(), version=finding.version, changes={"kind": "observation"}
        )
    send_back_finding(finding_id=finding.pk, actor=board_member(), reason="New evidence.")
    assert finding.reread().state == "proposed"


def test_withdrawn_with_a_reason():
    finding = make_finding()
    with refused(BadInput):
        withdraw_finding(finding_id=finding.pk, actor=board_member(), reason=" ")
    assert withdraw_finding(finding_id=finding.pk, actor=board_member(), reason="Wrong.").state == "withdrawn"


def test_two_edits_of_one_version_clash():
    finding = make_finding()
    given = {"finding_id": finding.pk, "actor": board_member(), "version": 1}
    edit_finding(**given, changes={"statement": "One."})
    with refused(EditConflict):
        edit_finding(**given, changes={"statement": "Two."})


def test_who_sits_on_a_board():
    anomaly = make_open()
    engineer, stranger = safety_engineer(), viewer()
    with refused(BadInput, code="cannot_sit"):
        seat_member(anomaly_id=anomaly.pk, actor=engineer, person_id=stranger.pk)
    with refused(NotAllowed):
        seat_member(anomaly_id=anomaly.pk, actor=stranger, person_id=engineer.pk)
    seat(anomaly)
    unseat_member(anomaly_id=anomaly.pk, actor=engineer, person_id=board_member().pk, reason="On leave.")
    with refused(Refused, code="not_seated"):
        unseat_member(anomaly_id=anomaly.pk, actor=engineer, person_id=board_member().pk, reason="On leave.")
    assert not anomaly.board.get().active
