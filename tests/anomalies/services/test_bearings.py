"""What evidence says of an event is entered with its justification, and withdrawn with a reason."""

from __future__ import annotations

import math

import pytest

from anomalies.errors import Missing
from anomalies.reads.known import find_ratio
from anomalies.services.bearings import weigh_evidence, withdraw_bearing
from anomalies.services.evidence import withdraw_evidence
from anomalies.services.findings import send_back_finding, withdraw_finding
from config.kit.errors import BadInput, NotAllowed, WrongState
from tests.anomalies.fault_trees import enter, held, make_investigation
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_adopted, make_finding
from tests.anomalies.people import board_member, recorder, viewer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db
TEST = {"sensitivity": 0.9, "false_alarm": 0.1, "found": True}


@pytest.mark.parametrize(
    ("says", "given", "ratio"),
    [
        ("occurred", {}, math.inf),
        ("absent", {}, 0.0),
        ("ratio", {"ratio": 3.5}, 3.5),
        ("test", TEST, 9.0),
        ("test", TEST | {"found": False}, (1 - 0.9) / (1 - 0.1)),
        ("test", TEST | {"false_alarm": 0.0}, math.inf),
        ("test", TEST | {"sensitivity": 1.0, "found": False}, 0.0),
    ],
)
def test_it_enters_as_a_likelihood_ratio(says, given, ratio):
    """Source: Bayes' theorem in odds form: s/f where a test found it, (1 - s)/(1 - f) where it did not."""
    investigation = make_investigation()
    bearing = enter(investigation, "valve", says, **given)
    assert find_ratio(bearing) == pytest.approx(ratio)
    assert (bearing.label, bearing.author, bearing.state) == ("B1", board_member(), "standing")
    assert enter(investigation, "both").label == "B2"
    assert investigation.reread().version == investigation.version + 2


@pytest.mark.parametrize(
    ("changes", "code", "fields"),
    [
        ({"event": "tap"}, "unknown_event", ["event"]),
        ({"event": "no-flow"}, "top_event", ["event"]),
        ({"says": "perhaps"}, "no_says", ["says"]),
        ({"says": "ratio"}, "bad_ratio", ["ratio"]),
        ({"says": "ratio", "ratio": 0.0}, "bad_ratio", ["ratio"]),
        ({"says": "ratio", "ratio": -2.0}, "bad_ratio", ["ratio"]),
        ({"says": "ratio", "ratio": math.inf}, "bad_ratio", ["ratio"]),
        ({"says": "ratio", "ratio": math.nan}, "bad_ratio", ["ratio"]),
        ({"says": "test"}, "bad_rate", ["sensitivity", "false_alarm"]),
        ({"says": "test", **TEST, "false_alarm": 1.1}, "bad_rate", ["false_alarm"]),
        ({"says": "test", **TEST, "sensitivity": math.nan}, "bad_rate", ["sensitivity"]),
        ({"says": "test", **TEST, "found": None}, "no_result", ["found"]),
        ({"says": "test", "sensitivity": 0.0, "false_alarm": 0.0, "found": True}, "says_nothing", ["found"]),
        ({"says": "test", "sensitivity": 1.0, "false_alarm": 1.0, "found": False}, "says_nothing", ["found"]),
        ({"justification": ""}, "", ["justification"]),
        ({"evidence_id": None}, "no_source", ["evidence_id"]),
        ({"evidence_id": 0}, "not_ours", ["evidence_id"]),
        ({"finding_id": 0}, "not_ours", ["finding_id"]),
    ],
)
def test_what_says_nothing_is_refused(changes, code, fields):
    investigation = make_investigation()
    given = {"event": "valve", "says": "occurred", "evidence_id": make_evidence(investigation.anomaly).pk}
    with refused(BadInput, code=code) as caught:
        enter(investigation, **given | changes)
    assert list(caught.value.fields) == fields


def test_what_belongs_to_another_anomaly_says_nothing_here():
    investigation = make_investigation()
    evidence, finding = make_evidence(), make_finding()
    with refused(BadInput, code="not_ours"):
        enter(investigation, "valve", evidence_id=evidence.pk)
    with refused(BadInput, code="not_ours"):
        enter(investigation, "valve", evidence_id=None, finding_id=finding.pk)


def test_what_does_not_belong_to_what_it_says_is_not_kept():
    bearing = enter(make_investigation(), "valve", "absent", ratio=3.0, **TEST)
    assert (bearing.ratio, bearing.sensitivity, bearing.false_alarm, bearing.found) == (None, None, None, None)


def test_withdrawn_it_counts_no_more():
    investigation = make_investigation()
    bearing = enter(investigation, "valve")
    version = investigation.reread().version
    with refused(BadInput):
        withdraw_bearing(bearing_id=bearing.pk, actor=board_member(), reason=" ")
    withdraw_bearing(bearing_id=bearing.pk, actor=board_member(), reason="Another valve.")
    assert not investigation.bearings.standing().exists()
    assert investigation.reread().version == version + 1
    with refused(WrongState):
        withdraw_bearing(bearing_id=bearing.pk, actor=board_member(), reason="Again.")


def test_others_may_not():
    investigation = make_investigation()
    bearing = enter(investigation, "valve")
    with refused(NotAllowed):
        weigh_evidence(investigation_id=investigation.pk, actor=viewer(), event="", says="", justification="")
    with refused(NotAllowed):
        withdraw_bearing(bearing_id=bearing.pk, actor=viewer(), reason="")


def test_what_a_standing_bearing_rests_on_alone_is_not_withdrawn():
    investigation = make_investigation()
    bearing = enter(investigation, "valve")
    (evidence,) = held(investigation)
    given = {"evidence_id": evidence, "actor": recorder(), "reason": "The wrong unit."}
    with refused(Missing) as caught:
        withdraw_evidence(**given)
    assert [(gap.kind, gap.record_id) for gap in caught.value.gaps] == [("bearing", bearing.pk)]
    withdraw_bearing(bearing_id=bearing.pk, actor=board_member(), reason="The wrong unit.")
    assert withdraw_evidence(**given).state == "withdrawn"


def test_a_finding_under_a_bearing_can_be_sent_back_and_not_withdrawn():
    investigation = make_investigation()
    adopted = make_adopted(investigation.anomaly)
    enter(investigation, "valve", evidence_id=None, finding_id=adopted.pk)
    with refused(Missing, code="rested_on"):
        withdraw_finding(finding_id=adopted.pk, actor=board_member(), reason="Wrong.")
    send_back_finding(finding_id=adopted.pk, actor=board_member(), reason="Unclear.")
    with refused(Missing, code="rested_on"):
        withdraw_finding(finding_id=adopted.pk, actor=board_member(), reason="Wrong.")


def test_of_evidence_and_finding_under_a_bearing_one_can_go():
    investigation = make_investigation()
    adopted = make_adopted(investigation.anomaly)
    evidence = make_evidence(investigation.anomaly)
    enter(investigation, "valve", evidence_id=evidence.pk, finding_id=adopted.pk)
    given = {"evidence_id": evidence.pk, "actor": recorder(), "reason": "The wrong unit."}
    withdraw_evidence(**given)
    with refused(Missing, code="rested_on"):
        withdraw_finding(finding_id=adopted.pk, actor=board_member(), reason="Wrong.")
