"""Types of files."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from anomalies.file_types import PICTURES, TEXT, UNKNOWN, find_file_type, is_text, names_another_type

PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"


@pytest.mark.parametrize(
    ("data", "media_type"),
    [
        (PNG, "image/png"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "image/jpeg"),
        (b"GIF89a\x01\x00", "image/gif"),
        (b"GIF87a\x01\x00", "image/gif"),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 ", "image/webp"),
        (b"%PDF-1.7\n%\xe2\xe3", "application/pdf"),
        ("Dröhnen at 09:31".encode(), TEXT),
        (b"time,value\r\n1,2\r\n", TEXT),
        (b"", UNKNOWN),
        (b"RIFF\x10\x00\x00\x00WAVEfmt ", UNKNOWN),
        (b"\x00\x00\x00\x00\x00\x00\x00\x00WEBP", UNKNOWN),
        (b"MZ\x90\x00", UNKNOWN),
        (b"Dr\xf6hnen", UNKNOWN),
        (PNG[:7], UNKNOWN),
    ],
)
def test_the_content_decides(data, media_type):
    assert find_file_type([data]) == media_type


@pytest.mark.parametrize("data", [b"<svg xmlns='x'><script/></svg>", b"<!doctype html><script>1</script>", b"<?xml?>"])
def test_what_a_browser_could_run_is_plain_text_and_no_picture(data):
    assert find_file_type([data]) == TEXT
    assert TEXT not in PICTURES


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1), st.binary(max_size=20))
def test_text_is_text_until_a_control_character_comes_in(text, tail):
    assert is_text([text.encode()])
    assert not is_text([text.encode(), b"\0" + tail])


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1), st.integers(1, 5))
def test_it_makes_no_difference_where_the_pieces_end(text, size):
    data = text.encode()
    pieces = [data[start : start + size] for start in range(0, len(data), size)]
    assert find_file_type(pieces) == find_file_type([data])
    assert find_file_type([PNG[start : start + size] for start in range(0, len(PNG), size)]) == "image/png"


def test_a_signature_after_something_else_counts_for_nothing():
    assert find_file_type([b" " + PNG]) == UNKNOWN
    assert find_file_type([b"<script>alert(1)</script>" + PNG]) == UNKNOWN


def test_a_name_that_says_otherwise_is_noticed():
    assert names_another_type("photo.PNG", "application/pdf")
    assert not names_another_type("photo.png", "image/png")
    assert not names_another_type("photo.jpeg", "image/jpeg")
    assert not names_another_type("series.csv", TEXT)
    assert not names_another_type("png", "application/pdf")
