"""Edits of steps."""

from __future__ import annotations

import pytest

from anomalies.step_edits import (
    DEEPEST,
    MOST_STEPS,
    add_step,
    change_notice,
    change_step,
    delete_step,
    insert_notice,
    move_step,
    remove_notice,
)
from anomalies.steps import Notice, Reading, load_steps, number_steps, store_steps
from config.kit.errors import BadInput
from tests.anomalies.steps import SUIT_UP, outline, step

WHOLE = "prepare(inspect pressure) mate(push pull) report"


def test_steps_are_numbered_by_where_they_stand():
    numbers = {"prepare": "1", "inspect": "1.1", "pressure": "1.2", "mate": "2", "push": "2.1", "pull": "2.2"}
    assert number_steps(SUIT_UP) == numbers | {"report": "3"}


def test_steps_are_stored_and_loaded_whole():
    stored = store_steps(SUIT_UP)
    assert load_steps(stored) == SUIT_UP
    assert stored[2]["reading"] == {"expected": "", "unit": "kPa", "low": "55.0", "high": "70.0"}


@pytest.mark.parametrize(
    ("parent", "after", "expected"),
    [
        ("", None, "prepare(inspect pressure) mate(push pull) report new"),
        ("", "", "new prepare(inspect pressure) mate(push pull) report"),
        ("", "prepare", "prepare(inspect pressure) new mate(push pull) report"),
        ("mate", "push", "prepare(inspect pressure) mate(push new pull) report"),
        ("mate", "", "prepare(inspect pressure) mate(new push pull) report"),
        ("report", None, "prepare(inspect pressure) mate(push pull) report(new)"),
    ],
)
def test_a_step_is_added_where_it_should_stand(parent, after, expected):
    steps = add_step(SUIT_UP, step("new", parent=parent), after=after)
    assert outline(steps) == expected
    assert list(number_steps(steps)) == [item.key for item in steps]


def test_the_first_step_of_all():
    assert outline(add_step((), step("new"))) == "new"


@pytest.mark.parametrize(
    ("key", "parent", "after", "expected"),
    [
        ("report", "", "", "report prepare(inspect pressure) mate(push pull)"),
        ("mate", "prepare", "inspect", "prepare(inspect mate(push pull) pressure) report"),
        ("pull", "", "prepare", "prepare(inspect pressure) pull mate(push) report"),
        ("prepare", "", None, "mate(push pull) report prepare(inspect pressure)"),
        ("pull", "mate", "", "prepare(inspect pressure) mate(pull push) report"),
    ],
)
def test_a_step_moves_with_all_that_is_under_it(key, parent, after, expected):
    steps = move_step(SUIT_UP, key, parent=parent, after=after)
    assert outline(steps) == expected
    assert {item.key: item.text for item in steps} == {item.key: item.text for item in SUIT_UP}


def test_a_step_goes_with_all_that_is_under_it():
    assert outline(delete_step(SUIT_UP, "mate")) == "prepare(inspect pressure) report"


def test_a_step_changes_and_keeps_its_place_and_warnings():
    reading = Reading(unit="kPa", low="60.0", high="70.0")
    steps = change_step(SUIT_UP, "pressure", {"text": "Read the pressure.", "reading": reading})
    assert outline(steps) == WHOLE
    assert (steps[2].text, steps[2].reading, steps[2].notices) == ("Read the pressure.", reading, SUIT_UP[2].notices)


def test_the_gravest_stands_first_before_the_step():
    steps = insert_notice(SUIT_UP, "push", Notice("n", "note", "The click is felt, not heard."))
    steps = insert_notice(steps, "push", Notice("w", "warning", "Keep fingers clear."))
    steps = insert_notice(steps, "push", Notice("c", "caution", "Don't twist."))
    assert [notice.key for notice in steps[4].notices] == ["w", "c", "n"]
    steps = change_notice(steps, "n", kind="warning", text="The click is felt only.")
    assert [notice.key for notice in steps[4].notices] == ["w", "n", "c"]
    assert [notice.key for notice in remove_notice(steps, "w")[4].notices] == ["n", "c"]


@pytest.mark.parametrize(
    ("edit", "code"),
    [
        (lambda: add_step(SUIT_UP, step("push")), "step_there"),
        (lambda: add_step(SUIT_UP, step("new", parent="nowhere")), "no_such_step"),
        (lambda: add_step(SUIT_UP, step("new"), after="push"), "no_such_place"),
        (lambda: add_step(SUIT_UP, step("new", notices=SUIT_UP[2].notices)), "notices_apart"),
        (lambda: move_step(SUIT_UP, "mate", parent="pull"), "under_itself"),
        (lambda: move_step(SUIT_UP, "mate", parent="mate"), "under_itself"),
        (lambda: move_step(SUIT_UP, "mate", parent="", after="mate"), "no_such_place"),
        (lambda: delete_step(SUIT_UP, "gone"), "no_such_step"),
        (lambda: change_step(SUIT_UP, "gone", {}), "no_such_step"),
        (lambda: insert_notice(SUIT_UP, "push", Notice("burst", "note", "Again.")), "notice_there"),
        (lambda: change_notice(SUIT_UP, "gone", kind="note", text="x"), "no_such_notice"),
        (lambda: remove_notice(SUIT_UP, "gone"), "no_such_notice"),
    ],
)
def test_an_edit_that_cannot_be_made_is_refused(edit, code):
    with pytest.raises(BadInput) as caught:
        edit()
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"text": "  "}, "text"),
        ({"text": "x" * 2001}, "text"),
        ({"kind": "pray"}, "kind"),
        ({"parent": ""}, "parent"),
        ({"reading": Reading(unit="kPa")}, "expected"),
        ({"reading": Reading(unit="kPa", low="a lot")}, "low"),
        ({"reading": Reading(unit="kPa", low="1e3")}, "low"),
        ({"reading": Reading(unit="kPa", low="70.0", high="55.0")}, "high"),
        ({"reading": Reading(low="70.0")}, "unit"),
        ({"reading": Reading(expected="x" * 201)}, "expected"),
    ],
)
def test_a_field_that_cannot_be_used_is_named(changes, field):
    with pytest.raises(BadInput) as caught:
        change_step(SUIT_UP, "pressure", changes)
    assert set(caught.value.fields) == {field}


def test_a_notice_that_cannot_be_used_names_its_fields():
    with pytest.raises(BadInput) as caught:
        insert_notice(SUIT_UP, "push", Notice("n", "threat", ""))
    assert set(caught.value.fields) == {"kind", "text"}


def test_nesting_and_length_have_an_end():
    steps = ()
    for depth in range(DEEPEST):
        steps = add_step(steps, step(f"s{depth}", parent=f"s{depth - 1}" if depth else ""))
    with pytest.raises(BadInput, match=f"at most {DEEPEST} deep"):
        add_step(steps, step("deeper", parent=f"s{DEEPEST - 1}"))
    with pytest.raises(BadInput, match="deep"):
        move_step((*steps, step("a"), step("b", parent="a")), "a", parent=f"s{DEEPEST - 2}")
    with pytest.raises(BadInput, match=f"at most {MOST_STEPS}"):
        add_step(tuple(step(f"s{n}") for n in range(MOST_STEPS)), step("more"))


@pytest.mark.parametrize(
    ("reading", "shown"),
    [
        (Reading(unit="kPa", low="55.0", high="70.0"), "55.0 to 70.0 kPa"),
        (Reading("green light"), "green light"),
        (Reading("steady", "kPa", low="55"), "steady, at least 55 kPa"),
        (Reading(unit="K", high="310"), "at most 310 K"),
    ],
)
def test_a_reading_is_shown_with_its_limits(reading, shown):
    assert str(reading) == shown
