"""Words in boxes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from faulttree.drawing.wrapping import fit, wrap


@given(st.text(max_size=200), st.integers(2, 40), st.integers(1, 4))
def test_no_line_is_ever_longer_than_the_box(words, room, rows):
    lines = wrap(words, room, rows)
    assert 1 <= len(lines) <= rows
    assert all(len(line) <= room for line in lines)


def test_what_is_left_out_is_marked():
    assert wrap("Two of three temperature sensors mislead the controller", 20, 2) == [
        "Two of three",
        "temperature sensors…",
    ]
    assert wrap("a-long-name-made-of-parts-0042", 12, 2) == ["a-long-name-", "made-of-par…"]
    assert wrap("Short", 20, 2) == ["Short"]
    assert fit("abc", 3) == "abc"
