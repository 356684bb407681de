"""Writes of the exposure log: entries by hand, and many at once from a table."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, ExposureEntry, HardwareType, Measure
from anomalies.services.checks import begin_move, clean_values, need_past, need_text
from anomalies.services.ledger import change_record, create_record
from anomalies.states import EXPOSURE
from config.kit.errors import BadInput
from config.kit.permissions import require

FIELDS = ("hardware_type_id", "measure", "amount", "start", "end", "activity_id", "source")
COLUMNS = ("part_number", "measure", "amount", "start", "end", "source")
NOT_IN_ORDER = "The end lies before the start."
NEGATIVE = "Exposure is 0 or more, and finite."
NOT_USED = "That activity used no item of this type."
TWICE = "An entry stands in place of what this activity adds already: withdraw it first."
MOST_LINES = 5_000
MOST_FAULTS = 50
WHY = "Say why."


@transaction.atomic
def enter_exposure(
    *,
    actor: User,
    hardware_type_id: int,
    measure: str,
    amount: float,
    start: datetime,
    end: datetime,
    source: str,
    activity_id: int | None = None,
) -> ExposureEntry:
    """The log has one more entry; one that names an activity stands in place of what that would add."""
    require(actor, "exposure.enter")
    given = dict(zip(FIELDS, (hardware_type_id, measure, amount, start, end, activity_id, source), strict=True))
    values = clean_values(ExposureEntry(), given, FIELDS)
    need_past("end", values["end"])
    _check(values)
    if activity_id is not None:
        _check_activity(values)
    return _write(values, actor)


@transaction.atomic
def import_exposure(*, actor: User, table: str) -> Sequence[ExposureEntry]:
    """Every line of a CSV table is in the log, or none; BadInput names line and column of each fault.

    The first line names the columns: part_number, measure, amount, start, end, source. Times are ISO 8601, UTC where
    no zone is given.
    """
    require(actor, "exposure.enter")
    rows = _read_table(table)
    types = {row.part_number: row.pk for row in HardwareType.objects.all()}
    cleaned, faults = [], []
    for line, row in rows:
        found = _read_line(row, types)
        faults += [f"Line {line}, {column}: {words}" for column, words in found[1]]
        cleaned.append(found[0])
    if faults:
        shown = faults[:MOST_FAULTS]
        if len(faults) > MOST_FAULTS:
            shown.append(f"{len(faults) - MOST_FAULTS:,} more faults aren't listed.")
        raise BadInput("Nothing was imported: mend these lines.", code="bad_table", fields={"table": shown})
    return [_write(values, actor) for values in cleaned]


@transaction.atomic
def withdraw_exposure(*, exposure_id: int, actor: User, reason: str) -> ExposureEntry:
    """The entry doesn't count any more."""
    entry = ExposureEntry.objects.lock(exposure_id)
    move = begin_move(entry, EXPOSURE, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    change_record(entry, {"state": move.target}, actor=actor, action="exposure.withdraw", reason=reason)
    return entry


def _write(values: dict[str, Any], actor: User) -> ExposureEntry:
    entry = ExposureEntry(**values, entered_by=actor, entered_at=now())
    create_record(entry, actor=actor, action="exposure.enter")
    return entry


def _check(values: dict[str, Any]) -> None:
    if values["end"] < values["start"]:
        raise BadInput(NOT_IN_ORDER, code="not_in_order", fields={"end": [NOT_IN_ORDER]})
    if not 0.0 <= values["amount"] < float("inf"):
        raise BadInput(NEGATIVE, code="negative", fields={"amount": [NEGATIVE]})


def _check_activity(values: dict[str, Any]) -> None:
    used = Activity.objects.filter(
        pk=values["activity_id"], hardware_uses__active=True, hardware_uses__item__type=values["hardware_type_id"]
    )
    if not used.exists():
        raise BadInput(NOT_USED, code="not_used", fields={"activity_id": [NOT_USED]})
    same = {name: values[name] for name in ("activity_id", "hardware_type_id", "measure")}
    if ExposureEntry.objects.standing().filter(**same).exists():
        raise BadInput(TWICE, code="twice", fields={"activity_id": [TWICE]})


def _read_table(table: str) -> list[tuple[int, dict[str, str]]]:
    """Return each line with its number; raises BadInput for a head that lacks a column, or too many lines."""
    reader = csv.DictReader(io.StringIO(table.lstrip("\ufeff").strip()))
    head = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    lacking = [name for name in COLUMNS if name not in head]
    if lacking:
        message = f"The first line must name the columns {', '.join(COLUMNS)}; it lacks {', '.join(lacking)}."
        raise BadInput(message, code="bad_head", fields={"table": [message]})
    reader.fieldnames = head
    rows = [(reader.line_num, {name: (row.get(name) or "").strip() for name in COLUMNS}) for row in reader]
    if not rows or len(rows) > MOST_LINES:
        message = "There's no line below the head." if not rows else f"More than {MOST_LINES:,} lines: split the table."
        raise BadInput(message, code="bad_length", fields={"table": [message]})
    return rows


def _read_line(row: dict[str, str], types: dict[str, int]) -> tuple[dict[str, Any], list[tuple[str, str]]]:
    """Return the values of a line, and the column and words of each fault."""
    faults = []
    values: dict[str, Any] = {"activity_id": None, "source": row["source"], "measure": row["measure"].lower()}
    values["hardware_type_id"] = types.get(row["part_number"])
    if values["hardware_type_id"] is None:
        faults.append(("part_number", f"there's no type “{row['part_number'][:60]}”."))
    if values["measure"] not in Measure.values:
        faults.append(("measure", f"“{row['measure'][:40]}” is none of {', '.join(Measure.values)}."))
    if not row["source"]:
        faults.append(("source", "say where the figure comes from."))
    elif len(row["source"]) > 300:
        faults.append(("source", "it has more than 300 characters."))
    try:
        values["amount"] = float(row["amount"])
        if not 0.0 <= values["amount"] < float("inf"):
            faults.append(("amount", NEGATIVE))
    except ValueError:
        faults.append(("amount", f"“{row['amount'][:40]}” is no number."))
    for name in ("start", "end"):
        try:
            at = datetime.fromisoformat(row[name])
            values[name] = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
        except ValueError:
            faults.append((name, f"“{row[name][:40]}” is no time. Write it like 2031-04-05T09:30."))
    if "start" in values and "end" in values:
        if values["end"] < values["start"]:
            faults.append(("end", NOT_IN_ORDER))
        elif values["end"] > now():
            faults.append(("end", "it is in the future."))
    return values, faults
