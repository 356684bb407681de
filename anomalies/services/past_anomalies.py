"""Brings anomalies of the past into the log, all of a table at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.models import Anomaly
from anomalies.reads.past_anomalies import ImportPlan, plan_import
from anomalies.services.anomalies import report_anomaly
from anomalies.services.numbers import hold_series
from anomalies.services.screening import screen_anomaly
from config.kit.errors import BadInput
from config.kit.permissions import require

MOST_FAULTS = 50
NOTHING_DONE = "Nothing was imported: mend the lines that are marked, then check again."
NOTHING_NEW = "Nothing was imported: every line is in the log already."


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import made, and how many lines it left out because they were in the log already."""

    made: Sequence[Anomaly]
    skipped: int


@transaction.atomic
def import_anomalies(*, actor: User, table: str) -> Imported:
    """Every line of the table that wasn't in the log is an anomaly of it, reported and perhaps screened; or none is.

    The table is checked anew. Raises BadInput that names line and column of each fault.
    """
    require(actor, "anomaly.report")
    plan = _check(plan_import(actor, table))
    for series in plan.series:
        hold_series(series)  # all before the first write: the head of the ledger is locked from then on
    plan = _check(plan_import(actor, table))  # what others imported while we waited for the series is there by now
    made = [
        _make(actor, row.story, [item.pk for item in row.items], row.screening)
        for row in sorted(plan.made, key=lambda row: row.story["occurred_at"])
    ]
    return Imported(made, len(plan.there))


def _check(plan: ImportPlan) -> ImportPlan:
    """Return the plan if it can be carried out and makes something; raises BadInput."""
    faults = [
        f"Line {row.line.number}{', ' if fault.column else ''}{fault.column}: {fault.text}"
        for row in plan.faulty
        for fault in row.faults
    ]
    if faults:
        shown = faults[:MOST_FAULTS]
        if len(faults) > MOST_FAULTS:
            shown.append(f"{len(faults) - MOST_FAULTS:,} more faults aren't listed.")
        raise BadInput(NOTHING_DONE, code="bad_table", fields={"table": shown})
    if not plan.made:
        raise BadInput(NOTHING_NEW, code="nothing_new", fields={"table": [NOTHING_NEW]})
    return plan


def _make(actor: User, story: dict[str, object], hardware_ids: list[int], screening: dict[str, object]) -> Anomaly:
    anomaly = report_anomaly(actor=actor, hardware_ids=hardware_ids, **story)  # type: ignore[arg-type]
    if screening:
        anomaly = screen_anomaly(anomaly_id=anomaly.pk, actor=actor, **screening)  # type: ignore[arg-type]
    return anomaly
