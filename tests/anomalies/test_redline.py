"""The redline: by hand, and by properties."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from anomalies.redline import FOLDED, Mark, compare_words, draw_redline, fold, merge_orders
from anomalies.step_edits import (
    add_step,
    change_notice,
    change_step,
    delete_step,
    insert_notice,
    move_step,
    remove_notice,
)
from anomalies.steps import Notice, Reading, find_children, number_steps
from config.kit.errors import BadInput
from tests.anomalies.steps import SUIT_UP, step


def touched(old, new):
    """Key -> mark, with an arrow if it moved, of all lines that aren't the same."""
    lines = draw_redline(old, new).lines
    return {line.key: str(line.mark) + (" moved" if line.moved else "") for line in lines if line.is_touched}


def show_words(spans):
    signs = {Mark.SAME: "{}", Mark.ADDED: "+{}+", Mark.REMOVED: "-{}-"}
    return "".join(signs[span.mark].format(span.text) for span in spans)


def test_equal_revisions_have_an_empty_redline():
    redline = draw_redline(SUIT_UP, SUIT_UP)
    assert redline.is_empty
    assert redline.count() == {"added": 0, "removed": 0, "changed": 0, "moved": 0}
    assert [line.key for line in redline.lines] == [item.key for item in SUIT_UP]
    assert draw_redline((), ()).lines == ()


def test_an_added_step_is_the_only_one_touched_though_others_are_numbered_anew():
    new = add_step(SUIT_UP, step("wipe", "Wipe the seal.", "prepare"), after="")
    assert touched(SUIT_UP, new) == {"wipe": "added"}
    lines = {line.key: line for line in draw_redline(SUIT_UP, new).lines}
    assert (lines["inspect"].old_number, lines["inspect"].new_number) == ("1.1", "1.2")
    assert (lines["wipe"].old_number, lines["wipe"].new_number) == ("", "1.1")
    assert show_words(lines["wipe"].words) == "+Wipe the seal.+"


def test_a_removed_branch_is_shown_where_it_stood():
    redline = draw_redline(SUIT_UP, delete_step(SUIT_UP, "mate"))
    assert [line.key for line in redline.lines] == [item.key for item in SUIT_UP]
    assert redline.count() == {"added": 0, "removed": 3, "changed": 0, "moved": 0}
    gone = next(line for line in redline.lines if line.key == "push")
    assert (gone.old_number, gone.new_number, gone.mark) == ("2.1", "", "removed")


def test_a_removed_step_comes_before_what_replaces_it():
    new = add_step(delete_step(SUIT_UP, "mate"), step("dock", "Dock."), after="prepare")
    keys = [line.key for line in draw_redline(SUIT_UP, new).lines]
    assert keys == ["prepare", "inspect", "pressure", "mate", "push", "pull", "dock", "report"]


def test_a_moved_branch_is_one_move():
    new = move_step(SUIT_UP, "mate", parent="", after="")
    assert touched(SUIT_UP, new) == {"mate": "same moved"}
    new = move_step(SUIT_UP, "mate", parent="prepare")
    assert touched(SUIT_UP, new) == {"mate": "same moved"}
    line = next(line for line in draw_redline(SUIT_UP, new).lines if line.key == "push")
    assert (line.old_number, line.new_number) == ("2.1", "1.3.1")


def test_a_step_can_be_moved_and_changed():
    new = change_step(move_step(SUIT_UP, "pull", parent=""), "pull", {"text": "Pull twice to check the latch."})
    assert touched(SUIT_UP, new) == {"pull": "changed moved"}


def test_a_step_saved_from_a_removed_branch_is_moved():
    new = delete_step(move_step(SUIT_UP, "pull", parent="prepare"), "mate")
    assert touched(SUIT_UP, new) == {"pull": "same moved", "mate": "removed", "push": "removed"}


def test_a_changed_limit_is_named_by_its_field():
    new = change_step(SUIT_UP, "pressure", {"reading": Reading(unit="kPa", low="58.0", high="70.0")})
    line = next(line for line in draw_redline(SUIT_UP, new).lines if line.is_touched)
    assert [(change.name, change.before, change.after) for change in line.fields] == [("low", "55.0", "58.0")]
    assert (line.mark, show_words(line.words), line.reading) == (
        "changed",
        "Read the coolant pressure.",
        "58.0 to 70.0 kPa",
    )


def test_a_reading_taken_away_and_another_kind_are_named():
    new = change_step(SUIT_UP, "pressure", {"kind": "do", "reading": None})
    line = next(line for line in draw_redline(SUIT_UP, new).lines if line.is_touched)
    changes = {change.name: (change.before, change.after) for change in line.fields}
    assert changes == {"kind": ("check", "do"), "unit": ("kPa", ""), "low": ("55.0", ""), "high": ("70.0", "")}


def test_warnings_are_compared_one_by_one():
    new = change_notice(SUIT_UP, "burst", kind="warning", text="Above 80 kPa the hose bursts.")
    new = insert_notice(new, "pressure", Notice("cold", "caution", "The hose is cold."))
    assert touched(SUIT_UP, new) == {"pressure": "changed"}
    line = next(line for line in draw_redline(SUIT_UP, new).lines if line.is_touched)
    assert [(notice.key, notice.mark, show_words(notice.words)) for notice in line.notices] == [
        ("burst", "changed", "Above -90-+80+ kPa the hose bursts."),
        ("cold", "added", "+The hose is cold.+"),
    ]
    line = next(line for line in draw_redline(new, SUIT_UP).lines if line.is_touched)
    assert [(notice.key, notice.mark) for notice in line.notices] == [("burst", "changed"), ("cold", "removed")]


@pytest.mark.parametrize(
    ("old", "new", "shown"),
    [
        ("Open valve V-12 slowly.", "Open valve V-14 slowly.", "Open valve -V-12-+V-14+ slowly."),
        ("Wait 5 minutes.", "Wait until 55.5 kPa.", "Wait -5 minutes-+until 55.5 kPa+."),
        ("Open the valve.", "Slowly open the valve.", "-Open-+Slowly open+ the valve."),
        ("Hold, then push.", "Hold then push.", "Hold-,- then push."),
        ("At 55.0 kPa.", "At 65.0 kPa.", "At -55.0-+65.0+ kPa."),
        ("", "New.", "+New.+"),
        ("Gone.", "", "-Gone.-"),
        ("", "", ""),
    ],
)
def test_words_are_compared_whole(old, new, shown):
    assert show_words(compare_words(old, new)) == shown


@pytest.mark.parametrize(
    ("old", "new", "merged", "moved"),
    [
        ("abc", "cab", "cab", "c"),
        ("abc", "bca", "bca", "a"),
        ("abcde", "aecd", "abecd", "e"),  # b is gone
        ("abc", "xay", "xabcy", ""),
        ("abc", "", "abc", ""),
        ("", "ab", "ab", ""),
    ],
)
def test_the_fewest_moves_explain_the_new_order(old, new, merged, moved):
    assert merge_orders(old, new, set(old) - set(new)) == (list(merged), set(moved))


WORDS = st.lists(st.sampled_from(["open", "valve", "12.5", " ", "  ", ",", "\n", "é", "don't"]), max_size=12)


@given(WORDS, WORDS)
def test_both_texts_can_be_read_off_the_words(old, new):
    old, new = "".join(old), "".join(new)
    spans = compare_words(old, new)
    assert "".join(span.text for span in spans if span.mark != Mark.ADDED) == old
    assert "".join(span.text for span in spans if span.mark != Mark.REMOVED) == new
    assert all(span.text for span in spans)


@st.composite
def edited(draw, at_most=12):
    """Steps after any sequence of edits, those that can't be made left out, and how many were made."""
    steps, made = SUIT_UP, 0
    for count in range(draw(st.integers(0, at_most))):
        keys = [item.key for item in steps]
        parent = draw(st.sampled_from(["", *keys]))
        siblings = find_children(steps).get(parent, [])
        after = draw(st.sampled_from([None, "", *siblings]))
        key = draw(st.sampled_from(keys or [""]))
        notices = [notice.key for item in steps for notice in item.notices] or [""]
        noticed = draw(st.sampled_from(notices))
        text = " ".join(draw(st.lists(st.sampled_from(["open", "shut", "12", "slowly"]), min_size=1, max_size=4)))
        edits = [
            lambda s, c=count, p=parent, a=after, t=text: add_step(s, step(f"n{c}", t, p), after=a),
            lambda s, k=key, t=text: change_step(s, k, {"text": t}),
            lambda s, k=key, t=text: change_step(s, k, {"reading": Reading(expected=t)}),
            lambda s, k=key, p=parent, a=after: move_step(s, k, parent=p, after=a),
            lambda s, k=key: delete_step(s, k),
            lambda s, k=key, c=count, t=text: insert_notice(s, k, Notice(f"w{c}", "caution", t)),
            lambda s, k=noticed: remove_notice(s, k),
        ]
        try:
            steps = draw(st.sampled_from(edits))(steps)
            made += 1
        except BadInput:
            continue
    return steps, made


def read_new(lines):
    return [(line.key, line.new_number, read_text(line.words, Mark.REMOVED)) for line in lines if line.new_number]


def read_old(lines):
    found = [(line.key, line.old_number, read_text(line.words, Mark.ADDED)) for line in lines if line.old_number]
    return sorted(found, key=lambda item: [int(part) for part in item[1].split(".")])


def read_text(words, without):
    return "".join(span.text for span in words if span.mark != without)


def tell(steps):
    numbers = number_steps(steps)
    return [(item.key, numbers[item.key], item.text) for item in steps]


@given(edited(), edited())
def test_both_revisions_can_be_read_off_the_redline(first, second):
    old, new = first[0], second[0]
    redline = draw_redline(old, new)
    assert read_new(redline.lines) == tell(new)
    assert read_old(redline.lines) == tell(old)
    assert redline == draw_redline(old, new)


@given(edited(), edited())
def test_only_equal_revisions_have_an_empty_redline(first, second):
    old, new = first[0], second[0]
    assert draw_redline(old, new).is_empty == (old == new)
    assert draw_redline(new, new).is_empty


@given(edited(at_most=1))
def test_one_edit_touches_what_it_edits_and_nothing_else(edit):
    new, made = edit
    counts = draw_redline(SUIT_UP, new).count()
    if not made or new == SUIT_UP:
        assert set(counts.values()) == {0}
    elif counts["removed"]:
        assert counts == {"added": 0, "removed": len(SUIT_UP) - len(new), "changed": 0, "moved": 0}
    else:
        assert sum(counts.values()) == 1


@given(edited(), edited())
def test_a_folded_redline_holds_every_line_once_and_hides_none_that_is_touched(first, second):
    redline = draw_redline(first[0], second[0])
    runs = fold(redline).runs
    assert [line for run in runs for line in run.lines] == list(redline.lines)
    assert not any(line.is_touched for run in runs if run.is_folded for line in run.lines)
    assert all(len(run.lines) >= FOLDED for run in runs if run.is_folded)


def test_a_long_run_is_folded_but_for_its_neighbours():
    old = [step(str(number), text=f"Step {number}.") for number in range(9)]
    new = [*old[:4], replace(old[4], text="Another."), *old[5:]]
    runs = fold(draw_redline(old, new)).runs
    assert [(len(run.lines), run.is_folded) for run in runs] == [(3, True), (3, False), (3, True)]


@given(edited(), edited())
def test_forth_and_back_are_each_others_mirror(first, second):
    forth, back = draw_redline(first[0], second[0]).count(), draw_redline(second[0], first[0]).count()
    mirrored = {"added": back["removed"], "removed": back["added"], "changed": back["changed"], "moved": back["moved"]}
    assert forth == mirrored
