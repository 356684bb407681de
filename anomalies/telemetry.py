"""Telemetry series: read from CSV with every bad row named, and searched for spans out of limits.

A file has one sample per line, `time,value`, in the order of time; a first line of names is allowed. Times are ISO
8601 with their zone, or mission times where the installation has a mission clock. Values are in the one unit that the
series has; nothing is converted.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby

from anomalies.mission_clock import read_mission_time
from config.kit.errors import BadInput

MOST_SAMPLES = 500_000
SHOWN_FAULTS = 50
LONGEST_CELL = 60
MOST_POINTS = 1200
NAMES = ("time", "value")
LARGEST = 1e100
YEARS = range(1900, 9000)
"""Values and times beyond these are slips of a pen or a program, and no chart could show them."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One value at one moment (UTC)."""

    at: datetime
    value: float


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong in a line of the file; lines count from 1."""

    line: int
    message: str

    def __str__(self) -> str:
        return f"Line {self.line}: {self.message}"


@dataclass(frozen=True, slots=True)
class Span:
    """A run of samples on one side of a limit, as long as it gets.

    start, end      moments of its first and last sample; the limit was crossed between `start` and the sample before,
                    and between `end` and the sample after
    extreme, at     the value furthest out, and the moment it was first reached
    is_open         the series ends out of limits, so that the end isn't known
    """

    side: str
    limit: float
    start: datetime
    end: datetime
    extreme: float
    at: datetime
    samples: int
    is_open: bool


class BadSeries(BadInput):
    """The file can't be used. `faults` names the first bad lines, `count` says how many there are."""

    def __init__(self, faults: Sequence[RowFault], count: int) -> None:
        self.faults, self.count = tuple(faults), count
        shown = [str(fault) for fault in faults]
        if count > len(faults):
            shown.append(f"{count - len(faults):,} more lines can't be used.")
        message = f"{count:,} line{'s' if count != 1 else ''} of the file can't be used; nothing was saved."
        super().__init__(message, code="bad_series", fields={"file": shown})


def read_series(data: bytes, *, epoch: datetime | None = None, most: int = MOST_SAMPLES) -> list[Sample]:
    """Return the samples of a CSV file in UTF-8; raises BadSeries with the lines that can't be used.

    epoch : where the mission clock shows zero; None: mission times aren't understood
    """
    samples: list[Sample] = []
    faults: list[RowFault] = []
    count = 0
    for line, row in _read_rows(data):
        try:
            sample = _read_sample(row, epoch)
            if samples and sample.at <= samples[-1].at:
                raise BadInput("The time isn't after that of the sample before.")
        except BadInput as error:
            count += 1
            if len(faults) < SHOWN_FAULTS:
                faults.append(RowFault(line, error.message))
        else:
            samples.append(sample)
        if len(samples) > most:
            raise BadSeries([RowFault(line, f"There are more than {most:,} samples: split the file.")], 1)
    if faults:
        raise BadSeries(faults, count)
    if not samples:
        raise BadSeries([RowFault(1, "There is no sample in the file.")], 1)
    return samples


def _read_rows(data: bytes) -> Iterator[tuple[int, list[str]]]:
    """Yield line numbers and cells; empty lines and a first line of names are passed over."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BadSeries([RowFault(line, "This isn't text in UTF-8.")], 1) from None
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            is_names = reader.line_num == 1 and tuple(cell.lower() for cell in cells) == NAMES
            if any(cells) and not is_names:
                yield reader.line_num, cells
    except csv.Error as error:
        raise BadSeries([RowFault(reader.line_num, f"This isn't CSV: {error}.")], 1) from None


def _read_sample(row: list[str], epoch: datetime | None) -> Sample:
    if len(row) != 2:
        raise BadInput(f"There are {len(row)} cells; a line is a time, a comma and a value.")
    return Sample(_read_time(row[0], epoch), _read_value(row[1]))


def _read_time(text: str, epoch: datetime | None) -> datetime:
    if epoch is not None and "/" in text:
        at = read_mission_time(text, epoch)
    else:
        try:
            at = datetime.fromisoformat(text)
        except ValueError:
            raise BadInput(f"{_quote(text)} isn't a time like 2031-01-01T00:00:00Z.") from None
    if at.tzinfo is None:
        raise BadInput(f"The time {_quote(text)} has no zone: write 2031-01-01T00:00:00Z.")
    if at.year not in YEARS:
        raise BadInput(f"{_quote(text)} isn't a time in the years {YEARS.start} to {YEARS.stop - 1}.")
    return at.astimezone(UTC)


def _read_value(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise BadInput(f"{_quote(text)} isn't a number.") from None
    if not math.isfinite(value):
        raise BadInput(f"{_quote(text)} isn't a finite number.")
    if abs(value) > LARGEST:
        raise BadInput(f"{_quote(text)} is beyond ±{LARGEST:g}.")
    return value


def _quote(text: str) -> str:
    return f"“{text}”" if len(text) <= LONGEST_CELL else f"“{text[:LONGEST_CELL]}…”"


def find_spans(samples: Iterable[Sample], *, low: float | None, high: float | None) -> list[Span]:
    """Return the spans below `low` and above `high`, in order; a value at a limit is within it, None is no limit.

    Spans hold samples only: nothing is interpolated. Raises BadInput if `low` is above `high`, or one of them is no
    finite number.
    """
    for name, limit in (("low", low), ("high", high)):
        if limit is not None and not abs(limit) <= LARGEST:  # nan is no number either
            message = f"A limit is a number within ±{LARGEST:g}."
            raise BadInput(message, code="bad_limit", fields={name: [message]})
    if low is not None and high is not None and low > high:
        message = "The low limit is above the high one."
        raise BadInput(message, code="limits_crossed", fields={"low": [message]})
    groups = [(side, list(run)) for side, run in groupby(samples, lambda sample: _find_side(sample.value, low, high))]
    return [
        _measure_span(side, low if side == "below" else high, run, is_open=position == len(groups))
        for position, (side, run) in enumerate(groups, 1)
        if side
    ]


def _find_side(value: float, low: float | None, high: float | None) -> str:
    if low is not None and value < low:
        return "below"
    return "above" if high is not None and value > high else ""


def _measure_span(side: str, limit: float | None, run: list[Sample], *, is_open: bool) -> Span:
    assert limit is not None  # nothing is beyond a limit there isn't
    pick = min if side == "below" else max
    extreme = pick(run, key=lambda sample: sample.value)  # the first of equals
    return Span(side, limit, run[0].at, run[-1].at, extreme.value, extreme.at, len(run), is_open)


def thin(samples: Sequence[Sample], most: int = MOST_POINTS) -> list[Sample]:
    """Return at most `most` samples, among them the first, the last, and the least and greatest of every stretch.

    So a drawing of them shows every peak that a drawing of all would show.
    """
    if len(samples) <= most:
        return list(samples)
    stretches = most // 2 - 1
    kept = {0, len(samples) - 1}
    for stretch in range(stretches):
        here = range(stretch * len(samples) // stretches, (stretch + 1) * len(samples) // stretches)
        kept.add(min(here, key=lambda position: samples[position].value))
        kept.add(max(here, key=lambda position: samples[position].value))
    return [samples[position] for position in sorted(kept)]
