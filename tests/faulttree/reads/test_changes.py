"""What a revision did to the probability of the top event, and that a figure says when it isn't exact."""

from __future__ import annotations

import pytest

from faulttree.bridge import read_source
from faulttree.models import TreeRevision
from faulttree.reads import changes
from faulttree.reads.changes import describe_change, find_ratio, shorten
from faulttree.services.trees import revise_tree
from tests.builders import wide_tree
from tests.faulttree.people import (
    PUMPS,
    PUMPS_PROBABILITY,
    TIMED,
    TWO_TOPS,
    make_done_run,
    make_engineer,
    make_revision,
)

BETTER = PUMPS.replace('value="0.01"', 'value="0.005"')
BETTER_PROBABILITY = 1 - 0.995 * (1 - 0.1 * 0.2)


def describe(before, after, hours=None):
    return describe_change(read_source(before.encode()), read_source(after.encode()), hours)


def test_a_change_says_what_it_did_to_the_top_event():
    found = describe(PUMPS, BETTER)
    assert [change["words"] for change in found["changes"]] == ["Basic event valve: probability from 0.01 to 0.005."]
    (top,) = found["tops"]
    assert (top["top"], top["method"]) == ("no-flow", "exact")
    assert top["before"]["probability"] == pytest.approx(PUMPS_PROBABILITY, rel=1e-12)
    assert top["after"]["probability"] == pytest.approx(BETTER_PROBABILITY, rel=1e-12)
    assert find_ratio(top) == pytest.approx(BETTER_PROBABILITY / PUMPS_PROBABILITY, rel=1e-12)
    assert found["notes"] == []


def test_a_tree_over_time_needs_a_mission_time():
    changed = TIMED.replace('value="1e-3"', 'value="2e-3"')
    found = describe(TIMED, changed)
    assert found["tops"] == []
    assert "no run says one" in found["notes"][0]
    found = describe(TIMED, changed, 10.0)
    assert found["mission_time"] == 10.0
    assert find_ratio(found["tops"][0]) > 1.0


def test_a_mission_time_that_nothing_depends_on_is_not_told():
    assert describe(PUMPS, BETTER, 10.0)["mission_time"] is None


def test_a_top_event_that_is_new_has_no_figure_before():
    found = describe(PUMPS, TWO_TOPS)
    assert [(top["top"], bool(top["before"]), bool(top["after"])) for top in found["tops"]] == [
        ("no-flow", True, True),
        ("other", False, True),
    ]
    gone = describe(TWO_TOPS, PUMPS)["tops"][1]
    assert (gone["after"], find_ratio(gone)) == (None, None)


def test_a_renamed_top_event_is_followed():
    (top,) = describe(PUMPS, PUMPS.replace("no-flow", "dry"))["tops"]
    assert (top["top"], top["was"]) == ("dry", "no-flow")
    assert find_ratio(top) == 1.0


def test_a_bracket_is_called_one(monkeypatch):
    monkeypatch.setattr(changes, "NODES", 2_000)
    wide = wide_tree(60)
    (top,) = describe(wide, wide.replace('value="0.1"', 'value="0.05"', 1))["tops"]
    assert top["method"] == "bracket"
    assert top["before"]["probability"] is None
    assert 0.0 <= top["before"]["lower"] <= top["before"]["upper"] <= 1.0
    assert find_ratio(top) is None


def test_what_a_row_leaves_out_is_told(monkeypatch):
    monkeypatch.setattr(changes, "MOST_KEPT", 1)
    kept = shorten(describe(PUMPS, BETTER.replace('value="0.2"', 'value="0.3"')))
    assert (kept["count"], len(kept["changes"])) == (2, 1)
    assert "first 1 of 2 differences" in kept["notes"][-1]


@pytest.mark.django_db
def test_a_revision_keeps_what_it_changed_at_the_mission_time_of_the_newest_run():
    engineer = make_engineer()
    first = make_revision(engineer, TIMED)
    make_done_run(engineer, first, mission_time=24.0)
    source = TIMED.replace('value="1e-3"', 'value="2e-3"').encode()
    second = revise_tree(tree_id=first.tree_id, actor=engineer, source=source, file_name="b.xml")
    kept = TreeRevision.objects.get(pk=second.pk).difference
    assert first.difference is None
    assert (kept["count"], kept["mission_time"]) == (1, 24.0)
    assert kept["tops"][0]["after"]["probability"] > kept["tops"][0]["before"]["probability"]
