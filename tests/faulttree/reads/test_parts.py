"""Gates and events of a tree by name: in the order of the tree, groups written out, and what is still to be decided."""

from __future__ import annotations

import pytest

from faulttree.reads.parts import read_parts
from tests.faulttree.people import PUMPS, TIMED, TWO_TOPS, make_engineer, make_revision

pytestmark = pytest.mark.django_db
GROUP = (
    PUMPS.replace(
        "</define-fault-tree>",
        '<define-CCF-group name="alike" model="beta-factor"><members><basic-event name="pump-1"/>'
        '<basic-event name="pump-2"/></members><distribution><float value="0.1"/></distribution>'
        '<factors><factor level="2"><float value="0.05"/></factor></factors></define-CCF-group></define-fault-tree>',
    )
    .replace('name="pump-1"><float value="0.1"/></define-basic-event>', 'name="pump-1"/>')
    .replace('name="pump-2"><float value="0.2"/></define-basic-event>', 'name="pump-2"/>')
)


def parts_of(source=PUMPS, top="no-flow"):
    return read_parts(make_revision(make_engineer(), source), top)


def test_level_by_level_in_the_order_of_the_tree():
    parts = parts_of()
    assert {part.name: part.depth for part in parts.by_name.values()} == {
        "no-flow": 0,
        "both": 1,
        "valve": 1,
        "pump-1": 2,
        "pump-2": 2,
    }
    assert [part.name for part in parts.events] == ["valve", "pump-1", "pump-2"]
    assert [part.name for part in parts.gates] == ["both"]
    assert parts.by_name["no-flow"].below == ("both", "valve")
    assert (parts.by_name["valve"].label, parts.by_name["valve"].is_gate) == ("Valve stuck", False)


def test_only_what_is_below_the_top():
    assert set(parts_of(TWO_TOPS, "other").by_name) == {"other", "valve", "pump-1"}


def test_a_top_that_is_not_there_has_nothing_below():
    assert parts_of(top="flow").by_name == {}


def test_whether_the_mission_time_matters():
    engineer = make_engineer()
    assert not read_parts(make_revision(engineer), "no-flow").uses_mission_time
    assert read_parts(make_revision(engineer, TIMED), "no-flow").uses_mission_time


def test_members_of_a_common_cause_group_are_gates_of_its_events():
    parts = parts_of(GROUP)
    assert parts.by_name["pump-1"].is_gate
    assert {part.name for part in parts.events} > {"valve"}
    assert not {"pump-1", "pump-2"} & {part.name for part in parts.events}
    shared = set(parts.by_name["pump-1"].below) & set(parts.by_name["pump-2"].below)
    assert len(shared) == 1


@pytest.mark.parametrize(
    ("decided", "waiting"),
    [
        (set(), ["valve", "pump-1", "pump-2"]),
        ({"pump-2"}, ["valve", "pump-1"]),
        ({"both"}, ["valve"]),
        ({"both", "valve"}, []),
        ({"no-flow"}, []),
    ],
)
def test_what_waits_for_a_decision(decided, waiting):
    assert [part.name for part in parts_of().find_open(decided)] == waiting
