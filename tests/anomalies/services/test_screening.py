"""Screening: risk, lead, dismissal."""

from __future__ import annotations

import pytest

from anomalies.models import Anomaly, LedgerEntry
from anomalies.services.screening import assign_anomaly, dismiss_anomaly, reassess_anomaly, screen_anomaly
from anomalies.services.ties import constrain
from config.kit.errors import BadInput, Refused
from tests.anomalies.people import (
    board_member,
    make_open,
    make_reported,
    make_type,
    recorder,
    safety_engineer,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def screen(anomaly, **changes):
    given = {"severity": 2, "probability": "C", "rationale": "Seen once.", "lead_id": board_member().pk}
    return screen_anomaly(anomaly_id=anomaly.pk, actor=safety_engineer(), **given | changes)


def test_screening_gives_a_risk_code_and_a_lead():
    reported = make_reported()
    assert (reported.risk_code, reported.risk) == ("", None)
    screened = screen(reported).reread()
    assert (screened.state, screened.risk_code, screened.risk) == ("open", "2C", "serious")
    assert screened.lead == board_member()
    assert screened.screened_at is not None
    assert list(Anomaly.objects.at_risk("serious")) == [screened]
    assert not Anomaly.objects.at_risk("high").exists()
    assert not Anomaly.objects.awaiting_screening().exists()
    assert list(Anomaly.objects.open()) == [screened]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"severity": 5}, "severity"),
        ({"severity": None}, "severity"),
        ({"probability": "G"}, "probability"),
        ({"probability": ""}, "probability"),
        ({"probability": "F"}, "probability"),
        ({"rationale": " "}, "rationale"),
        ({"lead_id": 9999}, "lead_id"),
    ],
)
def test_what_makes_no_sense_is_refused(changes, field):
    reported = make_reported()
    board_member(), safety_engineer()
    with refused(BadInput) as caught:
        screen(reported, **changes)
    assert set(caught.value.fields) == {field}


def test_the_lead_must_be_one_who_can():
    reported, person, closed = make_reported(), recorder(), board_member()
    with refused(BadInput, code="cannot_lead"):
        screen(reported, lead_id=person.pk)
    closed.is_active = False
    closed.save()
    with refused(BadInput, code="cannot_lead"):
        screen(reported, lead_id=closed.pk)


def test_reassessing_keeps_the_risk_before_in_the_ledger():
    anomaly = make_open()
    reassess_anomaly(
        anomaly_id=anomaly.pk, actor=safety_engineer(), severity=2, probability="F", rationale="Joint is gone."
    )
    assert anomaly.reread().risk == "eliminated"
    entry = LedgerEntry.objects.of("anomaly", anomaly.pk).last()
    assert entry.changes["probability"] == ("C", "F")
    assert entry.reason == "Joint is gone."


def test_an_anomaly_gets_another_lead():
    anomaly = make_open()
    engineer = safety_engineer()
    assign_anomaly(anomaly_id=anomaly.pk, actor=engineer, lead_id=engineer.pk, reason="Handover.")
    assert anomaly.reread().lead == engineer


def test_what_still_constrains_can_not_be_dismissed():
    anomaly, engineer = make_reported(), safety_engineer()
    constrain(anomaly_id=anomaly.pk, actor=engineer, statement="Not outside.", hardware_type_id=make_type().pk)
    with refused(Refused, code="constraints", match=r"1 constraint"):
        dismiss_anomaly(anomaly_id=anomaly.pk, actor=engineer, reason="No anomaly.")
