"""What could be looked at is planned with its rates; its result enters the tree by them."""

from __future__ import annotations

import math

import pytest

from anomalies.errors import EditConflict
from anomalies.models import Inspection
from anomalies.reads.known import find_ratio
from anomalies.services.bearings import withdraw_bearing
from anomalies.services.inspections import carry_out_inspection, drop_inspection, edit_inspection, plan_inspection
from anomalies.services.investigations import conclude_investigation, take_up_revision
from config.kit.errors import BadInput, NotAllowed, WrongState
from tests.anomalies.fault_trees import enter, judge_all, make_investigation, plan, revise
from tests.anomalies.files import make_evidence
from tests.anomalies.people import board_member, viewer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def carry_out(inspection, **changes):
    given = {"version": inspection.version, "found": True, "note": "It stuck."}
    if "evidence_id" not in changes:
        given["evidence_id"] = make_evidence(inspection.anomaly).pk
    return carry_out_inspection(inspection_id=inspection.pk, actor=board_member(), **given | changes)


def test_it_is_planned_with_what_it_takes():
    investigation = make_investigation()
    made = plan(investigation, "both", basis="Six trials.", cost=3.0, hours=0.5, needs_outing=True)
    row = Inspection.objects.get(pk=made.pk)
    assert (row.label, row.event, row.basis, row.cost, row.hours, row.needs_outing) == (
        "I1",
        "both",
        "Six trials.",
        3.0,
        0.5,
        True,
    )
    assert plan(investigation).label == "I2"
    assert investigation.reread().version == investigation.version  # nothing is known that wasn't


@pytest.mark.parametrize(
    ("changes", "code", "fields"),
    [
        ({"event": "tap"}, "unknown_event", ["event"]),
        ({"event": "no-flow"}, "top_event", ["event"]),
        ({"title": ""}, "", ["title"]),
        ({"sensitivity": 1.1}, "bad_rate", ["sensitivity"]),
        ({"false_alarm": -0.1}, "bad_rate", ["false_alarm"]),
        ({"sensitivity": math.nan}, "bad_rate", ["sensitivity"]),
        ({"sensitivity": 0.1}, "tells_nothing", ["sensitivity"]),
        ({"cost": -1.0}, "negative", ["cost"]),
        ({"hours": math.nan}, "negative", ["hours"]),
        ({"cost": math.inf, "hours": -1.0}, "negative", ["cost", "hours"]),
        ({"found": True}, "", ["found"]),
    ],
)
def test_what_can_not_be_planned_is_refused(changes, code, fields):
    investigation = make_investigation()
    with refused(BadInput, code=code) as caught:
        plan(investigation, **changes)
    assert list(caught.value.fields) == fields


def test_it_is_edited_while_it_is_possible():
    inspection = plan(make_investigation())
    given = {"inspection_id": inspection.pk, "actor": board_member()}
    edited = edit_inspection(**given, version=1, changes={"sensitivity": 0.8, "hours": 2.0})
    assert (edited.sensitivity, edited.hours, edited.version) == (0.8, 2.0, 2)
    with refused(EditConflict):
        edit_inspection(**given, version=1, changes={"hours": 3.0})
    with refused(BadInput, code="tells_nothing"):
        edit_inspection(**given, version=2, changes={"false_alarm": 0.8})
    with refused(BadInput):
        edit_inspection(**given, version=2, changes={"event": "both"})
    assert edit_inspection(**given, version=2, changes={"hours": 2.0}).version == 2


@pytest.mark.parametrize(("found", "ratio"), [(True, 9.0), (False, 1 / 9)])
def test_its_result_counts_by_its_rates(found, ratio):
    investigation = make_investigation()
    inspection = plan(investigation)
    bearing = carry_out(inspection, found=found)
    assert find_ratio(bearing) == pytest.approx(ratio)
    assert (bearing.event, bearing.inspection_id, bearing.says) == ("valve", inspection.pk, "test")
    row = inspection.reread()
    assert (row.state, row.found, row.result_note) == ("carried_out", found, "It stuck.")
    assert investigation.reread().version == investigation.version + 1
    with refused(WrongState):
        carry_out(row, evidence_id=0)


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"found": None}, "no_result", "found"),
        ({"note": " "}, "", "note"),
        ({"evidence_id": None}, "no_source", "evidence_id"),
        ({"evidence_id": 0}, "not_ours", "evidence_id"),
    ],
)
def test_a_result_says_how_it_ended_and_what_shows_it(changes, code, field):
    inspection = plan(make_investigation())
    given = {"evidence_id": make_evidence(inspection.anomaly).pk}
    with refused(BadInput, code=code) as caught:
        carry_out(inspection, **given | changes)
    assert list(caught.value.fields) == [field]


def test_a_result_on_rates_that_changed_is_a_conflict():
    inspection = plan(make_investigation())
    evidence = make_evidence(inspection.anomaly)
    edit_inspection(inspection_id=inspection.pk, actor=board_member(), version=1, changes={"sensitivity": 0.5})
    with refused(EditConflict):
        carry_out(inspection, evidence_id=evidence.pk)


def test_a_result_on_an_event_that_is_gone_is_refused():
    investigation = make_investigation()
    inspection = plan(investigation, "pump-2")
    revise(investigation)
    take_up_revision(investigation_id=investigation.pk, actor=board_member(), version=investigation.version)
    evidence = make_evidence(inspection.anomaly)
    with refused(BadInput, code="unknown_event"):
        carry_out(inspection, evidence_id=evidence.pk)


def test_a_result_that_can_not_come_with_its_rates_is_refused():
    inspection = plan(make_investigation(), sensitivity=1.0, false_alarm=0.0)
    assert find_ratio(carry_out(inspection, found=False)) == 0.0


def test_dropped_it_keeps_the_reason():
    inspection = plan(make_investigation())
    with refused(BadInput):
        drop_inspection(inspection_id=inspection.pk, actor=board_member(), reason="")
    dropped = drop_inspection(inspection_id=inspection.pk, actor=board_member(), reason="Too dear.")
    assert (dropped.state, dropped.result_note) == ("dropped", "Too dear.")


def test_others_may_not():
    investigation = make_investigation()
    inspection = plan(investigation)
    given = {"inspection_id": inspection.pk, "actor": viewer()}
    with refused(NotAllowed):
        plan_inspection(
            investigation_id=investigation.pk, actor=viewer(), event="", title="", sensitivity=2, false_alarm=2
        )
    with refused(NotAllowed):
        edit_inspection(**given, version=0, changes={"no": 1})
    with refused(NotAllowed):
        carry_out_inspection(**given, version=0, found=None, note="")
    with refused(NotAllowed):
        drop_inspection(**given, reason="")


def test_a_concluded_investigation_stays_as_it_is():
    investigation = make_investigation()
    inspection, bearing = plan(investigation), enter(investigation, "both", "ratio", ratio=0.5)
    evidence = make_evidence(investigation.anomaly)
    version = judge_all(investigation).version
    conclude_investigation(
        investigation_id=investigation.pk, actor=board_member(), version=version, conclusion="A stuck valve."
    )
    with refused(WrongState):
        carry_out(inspection, evidence_id=evidence.pk)
    with refused(WrongState):
        edit_inspection(inspection_id=inspection.pk, actor=board_member(), version=1, changes={"hours": 1.0})
    with refused(WrongState):
        drop_inspection(inspection_id=inspection.pk, actor=board_member(), reason="Done.")
    with refused(WrongState):
        withdraw_bearing(bearing_id=bearing.pk, actor=board_member(), reason="Done.")
    with refused(WrongState):
        plan(investigation)
    with refused(WrongState):
        enter(investigation, "valve", evidence_id=evidence.pk)
