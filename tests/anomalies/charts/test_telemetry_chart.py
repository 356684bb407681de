"""The telemetry chart: right places, safe markup, all said in words too."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from anomalies.charts.telemetry import (
    NARROW,
    WIDE,
    Mark,
    Strip,
    describe_strip,
    draw_telemetry,
    make_letter,
    write_value,
)
from anomalies.charts.time_axis import find_ticks, write_clock_tick, write_tick
from anomalies.telemetry import Sample, find_spans, thin

START = datetime(2024, 3, 5, 9, 0, tzinfo=UTC)
EPOCH = datetime(2024, 1, 1, tzinfo=UTC)
SVG = {"s": "http://www.w3.org/2000/svg"}
FLOATS = st.floats(-1e100, 1e100)


def strip(*values, low=None, high=None, marks=(), epoch=EPOCH, name="Coolant temperature", step=60):
    samples = [Sample(START + timedelta(seconds=step * number), value) for number, value in enumerate(values)]
    spans = find_spans(samples, low=low, high=high)
    return Strip(name, "°C", samples, low, high, spans, marks, epoch, len(spans))


def find(svg, path):
    return etree.fromstring(svg).xpath(path, namespaces=SVG)


def words_in(svg):
    return list(find(svg, "//s:text/text()"))


@given(st.lists(FLOATS, min_size=1, max_size=30), st.none() | FLOATS, st.sampled_from([WIDE, NARROW]))
def test_everything_is_drawn_within_the_picture(values, limit, size):
    svg = draw_telemetry(strip(*values, high=limit), size)
    for rect in find(svg, "//s:rect"):
        assert size.left - 0.1 <= float(rect.get("x"))
        assert float(rect.get("x")) + float(rect.get("width")) <= size.width
    for circle in find(svg, "//s:circle"):
        assert 36.0 - 0.1 <= float(circle.get("cy")) <= size.height


def test_a_span_is_shaded_from_its_first_sample_to_its_last_and_its_extreme_dotted():
    svg = draw_telemetry(strip(20, 31, 35, 32, 20, high=30.0), WIDE)
    (rect,) = find(svg, "//s:rect[@class='telemetry-span']")
    left, width = float(rect.get("x")), float(rect.get("width"))
    room = WIDE.width - 10.0 - WIDE.left
    assert left == pytest.approx(WIDE.left + room / 4, abs=0.1)
    assert width == pytest.approx(room / 2, abs=0.1)
    (dot,) = find(svg, "//s:circle[@class='telemetry-extreme']")
    assert float(dot.get("cx")) == pytest.approx(left + width / 2, abs=0.1)
    assert "high 30" in words_in(svg)


def test_higher_values_are_higher_up():
    svg = draw_telemetry(strip(1, 5, low=2.0, high=4.0), WIDE)
    low, high = (float(dot.get("cy")) for dot in find(svg, "//s:circle[@class='telemetry-extreme']"))
    assert high < low


def test_entries_have_letters_and_those_too_near_keep_their_line():
    near = [Mark(letter, START + timedelta(seconds=10 * n), "x") for n, letter in enumerate("abc")]
    svg = draw_telemetry(strip(*range(120), marks=near), WIDE)
    assert len(find(svg, "//s:path[@class='telemetry-mark']")) == 3
    assert find(svg, "//s:text[@class='telemetry-letter']/text()") == ["a"]
    assert len(find(svg, "//s:g/s:title")) == 3


def test_both_clocks_stand_under_it_and_only_utc_where_there_is_one():
    both = words_in(draw_telemetry(strip(*range(61)), WIDE))
    assert "09:30" in both
    assert "064/09:30" in both
    assert "UTC, 2024-03-05; below it the mission clock" in both
    alone = words_in(draw_telemetry(strip(*range(61), epoch=None), WIDE))
    assert "UTC, 2024-03-05" in alone
    assert not any("/" in word for word in alone)


@given(st.integers(60, 3 * 86_400), st.sampled_from([WIDE, NARROW]))
def test_words_under_the_axis_never_touch_each_other(seconds, size):
    svg = draw_telemetry(strip(1, 2, step=seconds), size)
    for kind in ("chart-tick", "chart-clock"):
        row = find(svg, f"//s:text[@class='{kind}'][not(@text-anchor='end') or position() > 4]")
        row = [word for word in row if float(word.get("y")) > size.height - 60]
        ends = []
        for word in row:
            half, x = len(word.text) * 6.0 / 2, float(word.get("x"))
            left = x - 2 * half if word.get("text-anchor") == "end" else x - half
            ends.append((left, left + 2 * half))
        assert all(ends[n][1] <= ends[n + 1][0] for n in range(len(ends) - 1))


def test_the_words_say_what_the_picture_shows():
    said = describe_strip(strip(20, 31, 20, -5, 20, low=0.0, high=30.0))
    assert said.startswith("Coolant temperature from 2024-03-05 09:00:00 to 2024-03-05 09:04:00 UTC: −5 to 31 °C.")
    assert said.endswith("2 times out of limits (low 0, high 30 °C).")
    assert describe_strip(strip(1, 2)).endswith("No limits are given.")
    assert describe_strip(strip(1, 2, high=3.0)).endswith("Never out of limits (high 3 °C).")
    (named,) = find(draw_telemetry(strip(1, 2), WIDE), "/s:svg[@role='img']/@aria-label")
    assert named == describe_strip(strip(1, 2))


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "\"'&<", "x" * 200])
def test_names_are_text_and_long_ones_are_cut(name):
    for size in (WIDE, NARROW):
        svg = draw_telemetry(strip(1, 2, name=name, marks=[Mark("a", START, name)]), size)
        assert "<script" not in svg
        assert all(len(word) * 6 < size.width for word in words_in(svg))


def test_one_sample_and_a_flat_line_are_drawn_too():
    assert len(find(draw_telemetry(strip(20), WIDE), "//s:circle[@class='telemetry-point']")) == 1
    assert find(draw_telemetry(strip(0, 0, 0), NARROW), "//s:path[@class='telemetry-line']")


def test_thousands_of_years_are_drawn_too():
    samples = [Sample(datetime(year, 1, 1, tzinfo=UTC), 1.0) for year in (1900, 8999)]
    svg = draw_telemetry(Strip("x", "m", samples, None, None, [], [], EPOCH, 0), NARROW)
    assert len(find(svg, "//s:text[@class='chart-clock']")) <= NARROW.ticks


def test_spans_in_the_same_pixel_are_drawn_once():
    noisy = strip(*[20 + 20 * (n % 2) for n in range(20_000)], high=30.0, step=1)
    svg = draw_telemetry(noisy, NARROW)
    assert len(noisy.spans) == 10_000
    assert len(find(svg, "//s:rect")) < 340
    assert len(find(svg, "//s:circle")) < 340


@given(st.integers(0, 2**31), st.floats(1, 1e9), st.integers(2, 10))
def test_ticks_are_round_within_and_not_too_many(low, length, most):
    ticks, _ = find_ticks(low, low + length, most)
    assert all(low <= tick <= low + length for tick in ticks)
    assert 1 <= len(ticks) <= most


def test_ticks_are_written_as_short_as_they_can_be():
    midnight = datetime(2024, 3, 5, tzinfo=UTC)
    assert write_tick(midnight, 3600) == "5 Mar"
    assert write_tick(START, 364 * 86_400) == "Mar 2024"
    assert write_tick(START, 60) == "09:00"
    assert write_tick(START, 5) == "09:00:00"
    assert write_clock_tick(START, 60, EPOCH) == "064/09:00"
    assert write_clock_tick(midnight, 5, START) == "-000/09:00:00"


def test_letters_go_on_after_z():
    assert [make_letter(number) for number in (0, 25, 26, 51, 52, 701, 702)] == [
        *("a", "z", "aa", "az", "ba", "zz", "aaa"),
    ]


def test_values_have_six_digits_at_most():
    assert [write_value(value) for value in (20.0, -0.5, 1234567.0, 0.1 + 0.2)] == ["20", "−0.5", "1.23457e+06", "0.3"]


@given(st.lists(FLOATS, min_size=1, max_size=400), st.integers(8, 50))
def test_thinning_keeps_both_ends_and_every_extreme(values, most):
    samples = [Sample(START + timedelta(seconds=number), value) for number, value in enumerate(values)]
    kept = thin(samples, most)
    assert len(kept) <= most or len(samples) <= most
    assert (kept[0], kept[-1]) == (samples[0], samples[-1])
    assert min(values) == min(sample.value for sample in kept)
    assert max(values) == max(sample.value for sample in kept)
    assert kept == sorted(kept, key=lambda sample: sample.at)
