"""Between rows and the engine."""

from __future__ import annotations

import itertools

import pytest

from faulttree.bridge import (
    Overrides,
    Request,
    TimeGrid,
    describe_model,
    hash_request,
    read_graph,
    read_request,
    read_source,
    write_request,
)
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.model import Number
from faulttree.engine.quantify import quantify
from tests.faulttree.people import PUMPS, TIMED

INNER = """<opsa-mef><define-fault-tree name="inner">
  <define-gate name="top"><or>
    <and><basic-event name="a"/><not><or><basic-event name="b"/><basic-event name="c"/></or></not></and>
    <atleast min="2"><basic-event name="a"/><not><basic-event name="b"/></not><gate name="g"/></atleast>
  </or></define-gate>
  <define-gate name="g"><cardinality min="1" max="2"><basic-event name="b"/><basic-event name="c"/>
    <basic-event name="d"/></cardinality></define-gate>
  <define-basic-event name="a"><float value="0.1"/></define-basic-event>
  <define-basic-event name="b"><float value="0.1"/></define-basic-event>
  <define-basic-event name="c"><float value="0.1"/></define-basic-event>
  <define-basic-event name="d"><float value="0.1"/></define-basic-event>
</define-fault-tree></opsa-mef>"""

GROUP = PUMPS.replace(
    "</define-fault-tree>",
    """<define-CCF-group name="pumps-ccf" model="beta-factor">
    <members><basic-event name="pump-1"/><basic-event name="pump-2"/></members>
    <distribution><float value="0.1"/></distribution>
    <factors><factor level="2"><float value="0.2"/></factor></factors></define-CCF-group></define-fault-tree>""",
)


@pytest.mark.parametrize(
    "request_",
    [
        Request(top="t"),
        Request(top="t", overrides=Overrides({"a": True, "b": Number(0.5)}, {"h": False}, {"r": Number(1.0)}, 3.0)),
        Request(top="t", mission_time=8.0, time_grid=TimeGrid(0.0, 8.0, 0.5), samples=9, evidence={"a": False}),
    ],
)
def test_a_request_comes_back_as_it_was(request_, settings):
    settings.RUN_MEMORY_MIB = 77
    again, budget = read_request(write_request(request_, nodes=5, seconds=2.0))
    assert again == request_
    assert (budget.nodes, budget.seconds, budget.memory_mib) == (5, 2.0, 77)


def test_rows_from_before_there_were_overrides_still_answer_the_same_request():
    """The hash of a request without overrides is what it was: nothing of them is in its JSON."""
    assert "overrides" not in write_request(Request(top="t"), nodes=5, seconds=2.0)
    assert write_request(Request(top="t", overrides=Overrides(mission_time=1.0)), nodes=5, seconds=2.0)["overrides"]


def test_the_hash_tells_requests_and_revisions_apart():
    one = write_request(Request(top="t"), nodes=5, seconds=2.0)
    same = dict(reversed(one.items()))
    other = write_request(Request(top="t", seed=2), nodes=5, seconds=2.0)
    assert hash_request("x", 1, one) == hash_request("x", 1, same)
    assert len({hash_request("x", 1, one), hash_request("x", 1, other), hash_request("x", 2, one)}) == 3


def test_facts_of_a_timed_model():
    facts = describe_model(read_source(TIMED.encode()))
    assert (facts.name, facts.label, facts.gates, facts.events) == ("timed", "No flow", 2, 3)
    assert facts.uses_mission_time
    assert not describe_model(read_source(PUMPS.encode())).uses_mission_time


def test_a_timed_event_has_no_probability_without_a_time():
    model = read_source(TIMED.encode())
    assert read_graph(model, None)["pump-1"].probability is None
    assert read_graph(model, 1000.0)["pump-1"].probability == pytest.approx(0.6321205588285577)


def test_what_occurs_in_the_drawing_is_what_the_engine_computes():
    """Every one of the 16 states of INNER, against the netlist the engine compiles."""
    model = read_source(INNER.encode())
    graph = read_graph(model, None)
    netlist = compile_model(model, "top")
    certain = {True: "1", False: "0"}
    for state in itertools.product((False, True), repeat=4):
        given = dict(zip("abcd", state, strict=True))
        source = INNER
        for name, occurs in given.items():
            event = f'name="{name}"><float value="0.1"/>'
            source = source.replace(event, f'name="{name}"><float value="{certain[occurs]}"/>')
        expected = quantify(read_source(source.encode())).probability
        occurring = graph.occur_when([name for name, occurs in given.items() if occurs])
        assert ("top" in occurring) == (expected == 1.0), given
    assert set(netlist.variables) == set("abcd")


def test_inner_formulas_become_gates_named_after_the_outer_one():
    graph = read_graph(read_source(INNER.encode()), None)
    assert graph.tops == ("top",)
    kinds = {graph[child.name].kind for child in graph["top"].children}
    assert kinds == {"and", "atleast"}
    assert all(child.name.startswith("top#") for child in graph["top"].children)


def test_common_cause_events_are_in_the_drawing():
    model = read_source(GROUP.encode())
    graph = read_graph(model, None)
    listed = {name for cut in quantify(model).cut_sets.listed for name in cut.events}
    assert listed <= set(graph.nodes)
    assert graph["pump-1"].is_gate
    assert "no-flow" in graph.occur_when(["pumps-ccf-all"])
