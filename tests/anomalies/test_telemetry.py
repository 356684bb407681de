"""Telemetry: files, and spans out of limits."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from anomalies.telemetry import BadSeries, Sample, find_spans, read_series
from config.kit.errors import BadInput

START = datetime(2024, 3, 5, 9, 0, tzinfo=UTC)


def series(*values):
    """One sample a minute."""
    return [Sample(START + timedelta(minutes=minute), value) for minute, value in enumerate(values)]


def write(samples):
    return "".join(f"{sample.at.isoformat()},{sample.value!r}\n" for sample in samples).encode()


@given(st.lists(st.floats(-1e100, 1e100), min_size=1, max_size=20))
def test_what_is_written_is_read_back(values):
    assert read_series(write(series(*values))) == series(*values)


def test_names_empty_lines_marks_and_zones_are_understood():
    data = "\ufeffTime, Value\r\n\r\n2024-03-05T10:00:00+01:00, 1\r\n2024-03-05T09:01:00Z,-2.5e0\r\n,\r\n"
    assert read_series(data.encode()) == series(1.0, -2.5)


def test_mission_times_are_understood_where_there_is_a_clock():
    data = b"T+000/00:00:00,1\n0/00:01,2\n"
    assert read_series(data, epoch=START) == series(1.0, 2.0)
    with pytest.raises(BadSeries):
        read_series(data)


BAD = """time,value
2024-03-05T09:00:00Z,1
2024-03-05T09:01:00,1
soon,1
2024-03-05T09:00:00Z,1
2024-03-05T09:02:00Z,high
2024-03-05T09:03:00Z,nan
2024-03-05T09:04:00Z
0001-01-01T00:00:00+14:00,1
2024-03-05T09:05:00Z,1
"""


def test_every_bad_line_is_named():
    with pytest.raises(BadSeries) as caught:
        read_series(BAD.encode())
    assert caught.value.count == 7
    said = {fault.line: fault.message for fault in caught.value.faults}
    expected = {
        3: "no zone",
        4: "“soon” isn't a time",
        5: "isn't after",
        6: "“high” isn't a number",
        7: "“nan” isn't a finite number",
        8: "1 cells",
        9: "isn't a time",
    }
    assert set(said) == set(expected)
    assert all(words in said[line] for line, words in expected.items())
    assert caught.value.fields["file"][0].startswith("Line 3: ")


def test_very_many_bad_lines_are_counted_and_the_first_are_shown():
    with pytest.raises(BadSeries, match=r"1,000 lines") as caught:
        read_series(b"x,1\n" * 1000)
    assert len(caught.value.faults) == 50
    assert caught.value.fields["file"][-1] == "950 more lines can't be used."


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (b"", 1, "no sample"),
        (b"time,value\n", 1, "no sample"),
        (b"2024-03-05T09:00:00Z,1\n\xff\n", 2, "UTF-8"),
        (b'2024-03-05T09:00:00Z,"' + b"1" * 200_000, 1, "isn't CSV"),
        (b"x" * 1000 + b",1", 1, "x…"),
    ],
)
def test_what_is_no_series_is_refused(data, line, words):
    with pytest.raises(BadSeries) as caught:
        read_series(data)
    (fault,) = caught.value.faults
    assert (fault.line, words in fault.message) == (line, True)


def test_too_many_samples_are_refused():
    data = write(series(*range(11)))
    assert len(read_series(data, most=11)) == 11
    with pytest.raises(BadSeries, match="1 line") as caught:
        read_series(data, most=10)
    assert "more than 10 samples" in caught.value.fields["file"][0]


def test_a_span_has_start_end_and_extreme():
    found = find_spans(series(5, 11, 13, 13, 12, 10, 4), low=4, high=10)
    assert len(found) == 1
    span = found[0]
    assert (span.side, span.limit, span.extreme, span.samples, span.is_open) == ("above", 10, 13, 4, False)
    assert [(moment - START).seconds // 60 for moment in (span.start, span.at, span.end)] == [1, 2, 4]


def test_from_one_side_to_the_other_is_two_spans_and_the_last_is_open():
    found = find_spans(series(11, 3, 2), low=4, high=10)
    assert [(span.side, span.extreme, span.is_open) for span in found] == [("above", 11, False), ("below", 2, True)]


def test_without_a_limit_nothing_is_beyond_it():
    assert find_spans(series(-1e9, 1e9), low=None, high=None) == []
    assert [span.side for span in find_spans(series(-1e9, 1e9), low=0, high=None)] == ["below"]


def test_crossed_limits_are_refused():
    with pytest.raises(BadInput, match="above the high"):
        find_spans(series(1), low=2, high=1)


@given(st.lists(st.integers(-3, 3), max_size=30), st.integers(-3, 0), st.integers(0, 3))
def test_spans_hold_exactly_the_samples_out_of_limits(values, low, high):
    samples = series(*values)
    found = find_spans(samples, low=low, high=high)
    outside = [sample for sample in samples if not low <= sample.value <= high]
    assert sum(span.samples for span in found) == len(outside)
    for sample in samples:
        within = [span for span in found if span.start <= sample.at <= span.end]
        assert len(within) == (sample in outside)
        for span in within:
            assert span.extreme <= sample.value < low if span.side == "below" else high < sample.value <= span.extreme
    for span, after in pairwise(found):
        assert span.end < after.start
        assert not span.is_open


@pytest.mark.parametrize("limit", [float("nan"), float("inf"), -float("inf"), 1e101])
@pytest.mark.parametrize("name", ["low", "high"])
def test_a_limit_is_a_number(name, limit):
    with pytest.raises(BadInput) as caught:
        find_spans([], **{"low": None, "high": None} | {name: limit})
    assert list(caught.value.fields) == [name]


@pytest.mark.parametrize(
    "line", ["0001-01-01T00:00:00Z,1", "9999-12-31T23:59:59-12:00,1", "2024-03-05T09:00:00Z,1e101"]
)
def test_what_no_chart_could_show_is_refused(line):
    with pytest.raises(BadSeries) as caught:
        read_series(line.encode())
    assert len(caught.value.faults) == 1
