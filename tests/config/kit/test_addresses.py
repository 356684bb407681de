"""What an address asks for."""

from __future__ import annotations

import pytest

from config.kit.addresses import LONGEST, read_choice, read_key, read_text


@pytest.mark.parametrize(
    ("given", "read"),
    [({}, ""), ({"words": "  a b\0c "}, "a bc"), ({"words": "x" * 300}, "x" * LONGEST), ({"other": "x"}, "")],
)
def test_text_is_cut_and_holds_nothing_a_database_refuses(given, read):
    assert read_text(given) == read


@pytest.mark.parametrize("text", ["7", "0", str(2**63 - 1)])
def test_a_key_is_a_number_that_a_key_can_be(text):
    assert read_key({"owner": text}, "owner") == text


@pytest.mark.parametrize("text", ["", "x", "-1", "1.5", "²", "٣", str(2**63), "9" * 250])
def test_what_no_key_can_be_is_left_out(text):
    assert read_key({"owner": text}, "owner") == ""


def test_a_choice_is_one_of_those_there_are():
    assert read_choice({"state": "open"}, "state", ["open"]) == "open"
    assert read_choice({"state": "Open"}, "state", ["open"]) == ""
    assert read_choice({}, "state", ["open"]) == ""
