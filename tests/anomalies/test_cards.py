"""What fits on a card."""

from __future__ import annotations

from anomalies.cards import CARD_COLUMNS, count_card_lines, write_card_step
from anomalies.steps import Notice, Reading, number_steps
from tests.anomalies.steps import SUIT_UP, step


def test_a_step_is_written_with_what_warns_of_it_before_and_its_reading_after():
    assert write_card_step(SUIT_UP[2], "1.2") == [
        "  WARNING: Above 90 kPa the hose bursts.",
        "  1.2 Read the coolant pressure.",
        "  > 55.0 to 70.0 kPa",
    ]


def test_lines_are_counted_as_they_are_written():
    assert count_card_lines(()) == 0
    assert count_card_lines(SUIT_UP) == 9
    assert count_card_lines((step("a", "x" * (3 * CARD_COLUMNS)),)) == 4  # the number takes part of a line
    assert count_card_lines((step("a", "Shut:\nV1\nV2"),)) == 3


def test_no_line_is_wider_than_the_card():
    long = "Shut the valve at once and tell everybody who can hear you that it is shut. " * 3
    steps = (
        step("a", long, notices=(Notice("n", "caution", long),), reading=Reading(expected=long)),
        step("b", long, "a"),
    )
    numbers = number_steps(steps)
    lines = [line for item in steps for line in write_card_step(item, numbers[item.key])]
    assert max(map(len, lines)) <= CARD_COLUMNS
    assert len(lines) == count_card_lines(steps)
