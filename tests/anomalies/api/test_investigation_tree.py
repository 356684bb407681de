"""An investigation by a fault tree through the JSON API, with the refusals on the way; figures by hand.

The tree is no-flow = valve or (pump-1 and pump-2), with 0.01, 0.1 and 0.2: P(no-flow) = 1 - 0.99 * 0.98 = 0.0298.
"""

from __future__ import annotations

import math

import pytest

from tests.anomalies.fault_trees import enter, judge_all, make_investigation, make_origin, plan, revise
from tests.anomalies.files import make_evidence
from tests.anomalies.people import board_member, make_open, make_stranger, viewer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
API = "/api/v1"
TOP = 0.0298


def send(client, address, method="post", /, **data):
    return getattr(client, method)(f"{API}/{address}", data, content_type="application/json")


def find(figures, name):
    return next(row for row in (*figures["events"], *figures["gates"]) if row["name"] == name)


def test_it_is_opened_once_on_a_tree():
    member, anomaly = log_in(board_member()), make_open()
    here = f"anomalies/{anomaly.number}/investigation/"
    assert member.get(f"{API}/{here}").status_code == 404
    given = {"revision_id": make_origin().pk, "top": "no-flow"}
    assert send(log_in(viewer()), here, **given).status_code == 403
    assert send(log_in(make_stranger()), here, **given).status_code == 404
    assert send(member, here, **given | {"top": "flow"}).json()["fields"].keys() == {"top"}
    made = send(member, here, **given)
    assert made.status_code == 201
    assert made.json()["origin_revision"] == 1
    assert send(member, here, **given).json()["code"] == "opened_already"
    assert member.get(f"{API}/{here}").json() == made.json()
    assert member.get(f"{API}/investigations/{made.json()['id']}/").json() == made.json()


def test_its_figures_are_those_of_the_tree():
    """Source: Bayes' theorem, by hand."""
    figures = read(make_investigation())["figures"]
    assert figures["top_probability"] == pytest.approx(TOP)
    valve, pump, both = (find(figures, name) for name in ("valve", "pump-1", "both"))
    assert (valve["label"], valve["prior"]) == ("Valve stuck", 0.01)
    assert valve["given_top"] == valve["posterior"] == pytest.approx(0.01 / TOP)
    assert both["posterior"] == pytest.approx(0.02 / TOP)
    assert pump["posterior"] == pytest.approx((0.02 + 0.01 * 0.1 * 0.8) / TOP)
    assert [(each["events"], pytest.approx(each["posterior"])) for each in figures["explanations"]] == [
        (["pump-1", "pump-2"], 0.02 / TOP),
        (["valve"], 0.01 / TOP),
    ]
    assert (figures["cut_sets"], figures["explanations_sure"], figures["open_events"]) == (2, 2, 3)
    assert "Decision support" in figures["caution"]
    assert figures["assumptions"]


def read(investigation, query=""):
    return log_in(viewer()).get(f"{API}/investigations/{investigation.pk}/{query}").json()


def test_evidence_and_dispositions_move_them():
    """Source: Bayes' theorem, by hand: a ratio of 8 on the valve weighs its states eightfold."""
    member, investigation = log_in(board_member()), make_investigation()
    here = f"investigations/{investigation.pk}/"
    evidence = make_evidence(investigation.anomaly)
    given = {"event": "valve", "justification": "A rattle.", "evidence_id": evidence.pk}
    assert send(member, f"{here}weigh/", **given, says="ratio").json()["fields"].keys() == {"ratio"}
    rattle = send(member, f"{here}weigh/", **given, says="ratio", ratio=8.0).json()
    whole = 8 * 0.01 + 0.99 * 0.02
    assert find(rattle["figures"], "valve")["posterior"] == pytest.approx(8 * 0.01 / whole)
    judged = {"events": ["both"], "disposition": "ruled_out", "rationale": "Both ran.", "evidence_ids": [evidence.pk]}
    conflict = send(member, f"{here}judge/", **judged, version=investigation.version)
    assert (conflict.status_code, conflict.json()["code"]) == (409, "edit_conflict")
    shown = send(member, f"{here}judge/", **judged, version=rattle["version"]).json()["figures"]
    assert find(shown, "valve")["posterior"] == pytest.approx(1.0)
    assert find(shown, "pump-1")["covered"] is True
    assert find(shown, "both")["disposition"]["evidence"] == [evidence.pk]
    assert [(row["kind"], row["event"], row["ratio"]) for row in shown["known"]] == [
        ("bearing", "valve", 8.0),
        ("disposition", "both", 0.0),
    ]
    bearing = shown["bearings"][0]["id"]
    assert send(member, f"bearings/{bearing}/withdraw/", reason="Another noise.").json()["state"] == "withdrawn"
    assert [row["kind"] for row in read(investigation)["figures"]["known"]] == ["disposition"]


def test_what_can_not_all_be_true_is_named():
    investigation = make_investigation()
    enter(investigation, "pump-1", "ratio", ratio=2.0)
    first, second = enter(investigation, "valve", "absent"), enter(investigation, "both", "absent")
    plan(investigation)
    figures = read(investigation)["figures"]
    assert [row["id"] for row in figures["conflict"]["known"]] == [first.pk, second.pk]
    assert figures["conflict"]["smallest"] is True
    assert find(figures, "valve")["posterior"] is None
    assert [(row["inspection"]["label"], row["bits"]) for row in figures["inspections"]] == [("I1", None)]


def test_certainty_is_null_as_a_ratio_and_0_as_a_price():
    investigation = make_investigation()
    enter(investigation, "valve", "occurred")
    plan(investigation, "pump-1", hours=0.0)
    figures = read(investigation)["figures"]
    assert figures["known"][0]["ratio"] is None
    assert figures["inspections"][0]["bits"] > 0
    assert figures["inspections"][0]["bits_per_price"] is None


def test_inspections_are_ranked_and_carried_out():
    """Source: H(q) - P H(s) - (1 - P) H(f), by hand for the valve: P = 0.01/0.0298, s = 0.9, f = 0.1."""
    member, investigation = log_in(board_member()), make_investigation()
    here = f"investigations/{investigation.pk}/"
    given = {"title": "Look", "sensitivity": 0.9, "false_alarm": 0.1}
    assert send(member, f"{here}plan-inspection/", **given | {"false_alarm": 1.5}, event="valve").status_code == 400
    assert send(member, f"{here}plan-inspection/", **given, event="valve", hours=10.0, cost=1.0).status_code == 200
    send(member, f"{here}plan-inspection/", **given, event="pump-2", hours=1.0, cost=10.0)
    by_hours, by_cost = (read(investigation, f"?rank={rank}")["figures"] for rank in ("hours", "cost"))
    assert [row["inspection"]["event"] for row in by_hours["inspections"]] == ["pump-2", "valve"]
    first, _ = by_cost["inspections"]
    p = 0.01 / TOP
    expected = entropy(p * 0.9 + (1 - p) * 0.1) - entropy(0.9)
    assert (first["inspection"]["event"], first["bits"]) == ("valve", pytest.approx(expected))
    assert first["bits_per_price"] == pytest.approx(expected)
    key = first["inspection"]["id"]
    assert send(member, f"inspections/{key}/", "patch", version=1, hours=2.0).json()["hours"] == 2.0
    result = {"found": True, "note": "It sticks.", "evidence_id": make_evidence(investigation.anomaly).pk}
    assert send(member, f"inspections/{key}/carry-out/", **result, version=1).json()["code"] == "edit_conflict"
    assert send(member, f"inspections/{key}/carry-out/", **result, version=2).json()["state"] == "carried_out"
    figures = read(investigation)["figures"]
    assert find(figures, "valve")["posterior"] == pytest.approx(9 * p / (9 * p + 1 - p))
    assert [row["label"] for row in figures["carried_out"]] == ["I1"]
    other = figures["inspections"][0]["inspection"]["id"]
    assert send(member, f"inspections/{other}/drop/", reason="Too dear.").json()["state"] == "dropped"


def entropy(q):
    return -q * math.log2(q) - (1 - q) * math.log2(1 - q)


def test_it_goes_with_its_tree_and_ends():
    member, investigation = log_in(board_member()), make_investigation()
    here = f"investigations/{investigation.pk}/"
    revise(investigation)
    seen = read(investigation)
    assert seen["figures"]["newer_revision"] == 2
    timed = send(member, f"{here}set-time/", version=seen["version"], mission_time=8.0).json()
    taken = send(member, f"{here}take-up/", version=timed["version"]).json()
    assert (taken["revision"], taken["figures"]["newer_revision"]) == (2, None)
    given = {"conclusion": "A stuck valve.", "version": taken["version"]}
    assert send(member, f"{here}conclude/", **given).json()["missing"][0]["text"] == "valve has no disposition."
    other = judge_all(make_investigation())
    given["version"] = other.version
    ended = send(member, f"investigations/{other.pk}/conclude/", **given).json()
    assert (ended["state"], ended["moves"]) == ("concluded", ["resume"])
    listed = member.get(f"{API}/investigations/?state=concluded").json()["results"]
    assert [row["id"] for row in listed] == [other.pk]
    assert "figures" not in listed[0]
    assert send(member, f"investigations/{other.pk}/resume/", reason="Frost.").json()["state"] == "under_way"
    assert log_in(make_stranger()).get(f"{API}/{here}").status_code == 404


def test_a_rank_that_is_none_is_refused():
    assert log_in(viewer()).get(f"{API}/investigations/{make_investigation().pk}/?rank=luck").status_code == 400
