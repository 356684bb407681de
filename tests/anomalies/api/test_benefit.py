"""What actions bring, through the JSON API."""

from __future__ import annotations

import pytest

from tests.anomalies.actions import make_proposed, make_verified
from tests.anomalies.api.test_investigation_tree import log_in, send
from tests.anomalies.effects import make_beside, make_effect
from tests.anomalies.fault_trees import make_investigation
from tests.anomalies.investigation import make_confirmed
from tests.anomalies.people import board_member, make_open, safety_engineer, viewer
from tests.anomalies.procedures import PASSWORD

pytestmark = pytest.mark.django_db
API = "/api/v1"


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def test_effects_are_stated_and_weighed():
    action = make_proposed()
    make_investigation(action.anomaly)
    member, here = log_in(board_member()), f"actions/{action.number}/"
    said = {"kind": "multiplied", "event": "valve", "amount": 0.1, "reason": "Tested."}
    made = send(member, f"{here}state-effect/", **said)
    assert made.status_code == 201
    assert send(member, f"{here}state-effect/", **said | {"event": "hose"}).json()["fields"]["event"]
    assert send(member, f"{here}estimate/", version=action.reread().version, cost=4.0).json()["cost"] == 4.0
    beside = make_beside(action)
    make_effect(beside)
    assert send(member, f"{here}tie/", other_id=beside.pk, kind="excludes").status_code == 201
    shown = log_in(viewer()).get(f"{API}/anomalies/{action.anomaly.number}/benefit/?cost=1").json()
    assert shown["before"]["probability"] == pytest.approx(1 - 0.98 * 0.99)
    assert [row["number"] for row in shown["actions"]] == [action.number, beside.number]
    assert shown["choice"]["chosen"] == [beside.number]
    assert shown["choice"]["method"] == "every set tried"
    withdrawn = send(member, f"effects/{made.json()['id']}/withdraw/", reason="Not so.")
    assert withdrawn.json()["state"] == "withdrawn"


def test_without_an_investigation_there_is_no_benefit():
    assert log_in(viewer()).get(f"{API}/anomalies/{make_open().number}/benefit/").status_code == 404


def test_a_baseline_is_signed():
    action = make_effect(make_verified(make_confirmed())).action
    engineer = safety_engineer()
    engineer.set_password(PASSWORD)
    engineer.save()
    investigation = action.anomaly.investigation.reread()
    given = {"version": investigation.version, "action_ids": [action.pk], "target": "origin", "password": PASSWORD}
    here = f"investigations/{investigation.pk}/take-baseline/"
    assert send(log_in(board_member()), here, **given).status_code == 403
    made = send(log_in(engineer), here, **given)
    assert made.status_code == 201
    assert made.json()["actions"] == [action.number]
    assert made.json()["after"] == pytest.approx(0.02)
