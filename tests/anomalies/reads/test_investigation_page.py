"""What the page of an investigation shows: beliefs, what gates cover, contradictions, inspections by their price."""

from __future__ import annotations

import math

import pytest

from anomalies.reads.investigations import describe_bearing, read_differences, read_investigation
from anomalies.services.causes import confirm_cause
from anomalies.services.investigations import take_up_revision
from faulttree.models import TreeRevision
from faulttree.services.trees import revise_tree
from tests.anomalies.fault_trees import FLOW, enter, judge, judge_all, make_investigation, plan, revise
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause, make_confirmed
from tests.anomalies.people import board_member, make_open, safety_engineer

pytestmark = pytest.mark.django_db
TOP = 1 - 0.99 * 0.98


def rows(listed):
    return {row.part.name: row for row in listed}


def read(investigation, **given):
    return read_investigation(investigation.reread(), **given)


def test_events_stand_by_what_is_believed_of_them():
    """Source: Bayes' theorem by hand: pump-1 and valve given no flow."""
    view = read(make_investigation())
    assert [row.part.name for row in view.events] == ["pump-2", "pump-1", "valve"]
    assert view.events[0].belief == pytest.approx((0.02 + 0.01 * 0.2 * 0.9) / TOP)
    assert [row.part.name for row in view.gates] == ["both"]
    assert view.labels["valve"] == "Valve stuck"
    assert view.labels["pump-1"] == "pump-1"
    assert (view.conflict, view.stopped, view.open_events) == ([], "", 3)


def test_what_is_below_decided_gates_is_covered():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "both")
    view = read(investigation)
    found = rows(view.events)
    assert {name for name, row in found.items() if row.covered} == {"pump-1", "pump-2"}
    assert view.open_events == 1
    judge(investigation, "open", "both")
    assert read(investigation).open_events == 3


def test_a_confirmed_gate_leaves_open_which_input_it_was():
    investigation = make_investigation()
    judge(investigation, "confirmed", "both")
    assert read(investigation).open_events == 3
    judge(investigation, "credible", "both")
    assert read(investigation).open_events == 1


def test_an_event_of_two_gates_is_covered_only_by_both():
    source = FLOW.replace('<basic-event name="valve"/>', '<basic-event name="valve"/><basic-event name="pump-1"/>')
    investigation = make_investigation(source=source.replace("suit-flow", "shared"))
    judge(investigation, "ruled_out", "both")
    found = rows(read(investigation).events)
    assert found["pump-2"].covered
    assert not found["pump-1"].covered


def test_a_conflict_names_what_can_not_all_be_true():
    investigation = make_investigation()
    enter(investigation, "pump-2", "ratio", ratio=5.0)
    judge(investigation, "ruled_out", "valve")
    enter(investigation, "pump-1", "absent")
    plan(investigation)
    view = read(investigation)
    assert [known.label for known in view.conflict] == ["valve ruled out", "B2 on pump-1"]
    assert [row.moved.posterior for row in view.events] == [None, None, None]
    assert [(row.worth, row.per_cost) for row in view.inspections] == [(None, None)]


@pytest.mark.parametrize(
    ("order", "names"),
    [
        ("bits", ["both", "valve", "pump-1"]),
        ("hours", ["valve", "both", "pump-1"]),
        ("cost", ["pump-1", "both", "valve"]),
    ],
)
def test_inspections_stand_by_what_they_tell_for_their_price(order, names):
    investigation = make_investigation()
    plan(investigation, "both", hours=40.0, cost=40.0)
    plan(investigation, "valve", hours=1.0, sensitivity=0.8)
    plan(investigation, "pump-1", cost=0.0, sensitivity=0.6)
    view = read(investigation, order=order)
    assert [row.inspection.event for row in view.inspections] == names
    price = {"bits": 1.0, "hours": 40.0, "cost": 40.0}[order]
    row = next(row for row in view.inspections if row.inspection.event == "both")
    assert row.per_cost == pytest.approx(row.worth.bits / price)


def test_what_costs_nothing_comes_first_and_what_has_no_price_last():
    investigation = make_investigation()
    plan(investigation, "both", hours=1.0)
    plan(investigation, "pump-1")
    plan(investigation, "valve", hours=0.0)
    found = read(investigation).inspections
    assert [row.inspection.event for row in found] == ["valve", "both", "pump-1"]
    assert [found[0].per_cost, found[2].per_cost] == [math.inf, None]


def test_what_speaks_of_events_that_are_gone_is_lost():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "pump-2")
    bearing = enter(investigation, "pump-2", "ratio", ratio=0.5)
    kept = enter(investigation, "valve", "ratio", ratio=2.0)
    plan(investigation, "pump-2", hours=1.0)
    revise(investigation)
    assert read(investigation).has_newer
    version = investigation.reread().version
    take_up_revision(investigation_id=investigation.pk, actor=board_member(), version=version)
    view = read(investigation)
    assert not view.has_newer
    assert {known.label for known in view.lost} == {"pump-2 ruled out", f"{bearing.label} on pump-2"}
    assert [known.record for known in view.known] == [kept]
    assert [row.worth for row in view.inspections] == [None]
    assert any("pump-2" in sentence for sentence in read_differences(view))


def test_a_copy_does_not_differ_until_one_of_them_changes():
    investigation = make_investigation()
    assert read_differences(read(investigation)) == []
    revise_tree(
        tree_id=investigation.origin.tree_id,
        actor=safety_engineer(),
        source=FLOW.replace("0.01", "0.02").encode(),
        file_name="flow.xml",
    )
    assert len(read_differences(read(investigation))) == 1


def texts(investigation):
    return [each.text for each in read(investigation).mismatches]


def test_a_confirmed_event_asks_for_a_cause_and_a_confirmed_cause_for_an_event():
    investigation = make_investigation()
    cause = make_confirmed(investigation.anomaly)
    judge_all(investigation)
    assert texts(investigation) == [
        f"{cause.label} is confirmed, and no event of this tree stands for it.",
        "valve is confirmed, and no cause stands for it: state one.",
    ]


def test_a_cause_that_names_the_event_of_either_tree_answers_it():
    for tree in ("tree_id", "origin_id"):
        investigation = make_investigation()
        key = investigation.tree_id
        if tree == "origin_id":
            key = TreeRevision.objects.get(pk=investigation.origin_id).tree_id
        cause = make_cause(investigation.anomaly, tree_id=key, event_code="valve")
        judge_all(investigation)
        assert texts(investigation) == []
        assert rows(read(investigation).events)["valve"].causes == (cause,)


def test_a_cause_and_its_event_do_not_contradict_each_other():
    investigation = make_investigation()
    judge(investigation, "ruled_out", "valve")
    linked = {"tree_id": investigation.tree_id, "event_code": "valve"}
    cause = make_confirmed_as(investigation, linked)
    assert texts(investigation) == [f"{cause.label} is confirmed, but valve isn't: one of them is wrong."]


def make_confirmed_as(investigation, linked):
    """A confirmed cause that names an event."""
    cause = make_cause(investigation.anomaly, **linked)
    key = make_evidence(investigation.anomaly).pk
    return confirm_cause(cause_id=cause.pk, actor=board_member(), version=1, rationale="Seen.", evidence_ids=[key])


def test_a_cause_of_an_event_that_is_gone_is_named():
    investigation = make_investigation()
    cause = make_cause(investigation.anomaly, tree_id=investigation.tree_id, event_code="pump-2")
    revise(investigation)
    take_up_revision(investigation_id=investigation.pk, actor=board_member(), version=investigation.version)
    assert texts(investigation) == [f"{cause.label} stands for pump-2, which this tree doesn't have."]


def test_a_tree_that_can_not_happen_says_so():
    source = FLOW.replace("suit-flow", "never")
    for value in ("0.01", "0.1", "0.2"):
        source = source.replace(f'value="{value}"', 'value="0"')
    view = read(make_investigation(make_open(), source))
    assert view.posterior.conflict.top_alone
    assert view.posterior.top_probability == 0.0


@pytest.mark.parametrize(
    ("says", "given", "words"),
    [
        ("occurred", {}, "it occurred"),
        ("absent", {}, "it did not occur"),
        ("ratio", {"ratio": 2.5}, "likelihood ratio 2.5"),
        (
            "test",
            {"sensitivity": 0.9, "false_alarm": 0.1, "found": False},
            "a test of sensitivity 0.9 and false-alarm rate 0.1 did not find it",
        ),
    ],
)
def test_a_bearing_in_words(says, given, words):
    assert describe_bearing(enter(make_investigation(), "valve", says, **given)) == words
