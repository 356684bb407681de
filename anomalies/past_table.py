"""A table of past anomalies as text: which columns it has, and how its lines are read. Nothing here asks a database."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from config.kit.errors import BadInput

COLUMNS = {
    "occurred_at": "When it occurred, like 2031-04-05 09:30; UTC unless a zone is given. Needed.",
    "title": "What was seen, in a sentence. Needed.",
    "description": "What was seen, in full.",
    "place": "Where.",
    "activity": "During which activity: its title, or # and the number in the address of its page.",
    "activity_cut_short": "yes, if the activity was ended early because of it.",
    "hardware": "Items concerned: part number / serial number, with ; between several.",
    "immediate_response": "What was done at once.",
    "severity": "1 to 4, as in MIL-STD-882E. Give all four columns of a screening, or none.",
    "probability": "A to E.",
    "rationale": "Why this severity and this probability.",
    "lead": "Who leads the work on it: a user name, or a full name.",
}
"""Column -> what stands in it."""
NEEDED = ("occurred_at", "title")
SCREENING = ("severity", "probability", "rationale", "lead")
SEPARATORS = (",", ";", "\t")
MOST_ROWS = 1_000
MOST_CHARACTERS = 1_000_000
EXAMPLE = (
    tuple(COLUMNS),
    (
        "2031-03-02 14:20",
        "Glove heater cut out for two minutes",
        "It came back by itself when the cuff was moved.",
        "Port truss",
        "",
        "no",
        "",
        "Task went on with the other glove.",
        "",
        "",
        "",
        "",
    ),
)
"""A head and one line, for the file that shows how it's done."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table: the number of its first line in the text, its cells by column, cells beyond the head."""

    number: int
    cells: dict[str, str]
    beyond: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """The lines, and the columns that nothing is made of."""

    lines: Sequence[Line]
    unused: tuple[str, ...]


def read_table(text: str) -> Table:
    """Return the lines below the head, without empty ones.

    Columns are separated by whichever of comma, semicolon and tab the head has most of. Raises BadInput on `table` for
    a head that lacks a column or has one twice, for no lines or too many, and for text that isn't CSV.
    """
    text = text.lstrip("\ufeff").strip()
    if len(text) > MOST_CHARACTERS:
        _refuse(f"The table has {len(text):,} characters; at most {MOST_CHARACTERS:,} are read. Split it.")
    head_line = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text), delimiter=max(SEPARATORS, key=head_line.count), strict=True)
    try:
        head = [name.strip().lower().replace(" ", "_") for name in next(reader, [])]
        _check_head(head)
        lines, begins = [], reader.line_num + 1
        for row in reader:
            if any(cell.strip() for cell in row):
                lines.append(_read_line(begins, head, row))
            begins = reader.line_num + 1
    except csv.Error as error:
        _refuse(f"Line {reader.line_num} isn't CSV: {error}. Quotes within a quoted cell are doubled.")
    if not lines:
        _refuse("There's no line below the head: put one line for each anomaly.")
    if len(lines) > MOST_ROWS:
        _refuse(f"The table has {len(lines):,} lines; at most {MOST_ROWS:,} are read at once. Split it.")
    return Table(lines, tuple(name for name in head if name and name not in COLUMNS))


def read_moment(text: str) -> datetime | None:
    """Return the moment, in UTC unless it names a zone; None if it's no time, or only a day."""
    if len(text) < len("2031-04-05 09"):
        return None
    try:
        at = datetime.fromisoformat(text)
        return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def read_yes(text: str) -> bool | None:
    """Return what yes and no mean; empty is no; None for other words."""
    return {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False, "": False}.get(text.lower())


def _check_head(head: Sequence[str]) -> None:
    lacking = [name for name in NEEDED if name not in head]
    if lacking:
        _refuse(f"The first line names the columns, and needs {' and '.join(NEEDED)}; it lacks {', '.join(lacking)}.")
    twice = sorted({name for name in head if name and head.count(name) > 1})
    if twice:
        _refuse(f"The first line has {', '.join(twice)} more than once: rename or remove one.")


def _read_line(number: int, head: Sequence[str], row: Sequence[str]) -> Line:
    cells = dict.fromkeys(COLUMNS, "") | {name: cell.strip() for name, cell in zip(head, row, strict=False)}
    return Line(number, cells, tuple(cell for cell in row[len(head) :] if cell.strip()))


def _refuse(message: str) -> None:
    raise BadInput(message, code="bad_table", fields={"table": [message]})
