"""Numbers as people read them."""

from __future__ import annotations

import pytest

from config.kit.figures import group_digits, write_plain, write_seconds, write_share, write_tick
from faulttree.templatetags.figures import digits_in_full, figure, grouped


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0.0, "0"),
        (1.17058181e-3, "1.171×10⁻³"),
        (0.781302451, "0.7813"),
        (0.01, "0.01000"),
        (9999.9, "10000"),
        (1.936e4, "1.936×10⁴"),
        (-0.1, "−0.1000"),
        (float("inf"), "∞"),
    ],
)
def test_plain_numbers(value, written):
    assert write_plain(value, 4) == written


def test_a_figure_on_a_page_has_a_real_superscript():
    assert "10<sup>−4</sup>" in figure(1.26e-4, 3)
    assert figure(None) == "–"
    assert figure(float("inf")) == "∞"


def test_large_counts_are_written_in_full():
    count = 82_000_000_000_000_000_001
    assert group_digits(count).replace("\u202f", "") == str(count)
    assert group_digits(1234) == "1\u202f234"
    assert grouped(None) == "–"


def test_a_probability_in_full_reads_back():
    assert float(digits_in_full(1.1705818107587e-03)) == 1.1705818107587e-03


@pytest.mark.parametrize(
    ("share", "written"), [(0.5, "50.0\u202f%"), (0.00571, "0.57\u202f%"), (1e-7, "1.0×10⁻⁵\u202f%"), (0.0, "0\u202f%")]
)
def test_shares(share, written):
    assert write_share(share) == written


def test_times_and_ticks():
    assert write_seconds(0.0124) == "12\u202fms"
    assert write_seconds(12.34) == "12.3\u202fs"
    assert write_seconds(125) == "2\u202fmin 5\u202fs"
    assert write_tick(5e-5) == "5×10⁻⁵"
    assert write_tick(1e-5) == "10⁻⁵"
    assert write_tick(0.5) == "0.5"
