"""How much a type of hardware was used: what was entered, and what its activities add to that."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from anomalies.models import Activity, ActivityHardware, ExposureEntry, FailureMode, HardwareType, Measure, Occurrence
from anomalies.states import ActivityState, AnomalyState

OVER = (ActivityState.COMPLETED, ActivityState.ENDED_EARLY)
EXPOSURE_HEADER = ("part_number", "measure", "amount", "start", "end", "source", "origin")
COUNTED = (AnomalyState.REPORTED, AnomalyState.OPEN, AnomalyState.CLOSED)


@dataclass(frozen=True, slots=True)
class Used:
    """One row of the exposure log; `record` is the entry or the activity it comes from."""

    amount: float
    start: datetime
    end: datetime
    source: str
    record: ExposureEntry | Activity

    @property
    def is_entered(self) -> bool:
        """Somebody entered it; otherwise it was counted from an activity."""
        return isinstance(self.record, ExposureEntry)


@dataclass(frozen=True, slots=True)
class Exposure:
    """All use of a type in one measure, the latest first."""

    measure: str
    rows: tuple[Used, ...]

    @property
    def total(self) -> float:
        """The sum."""
        return sum(row.amount for row in self.rows)


def read_exposure(
    hardware_type: HardwareType, measure: str, *, since: datetime | None = None, until: datetime | None = None
) -> Exposure:
    """Return the exposure that ended after `since` and not after `until`.

    Outings and hours are counted from activities that are over: each item of the type that was used counts once, and
    for the whole length of the activity. An entry that names an activity stands in place of what it would add. Cycles
    and demands are only what was entered.
    """
    entries = list(hardware_type.exposure.standing().filter(measure=measure).select_related("activity"))
    taken = {entry.activity_id for entry in entries if entry.activity_id is not None}
    rows = [Used(entry.amount, entry.start, entry.end, entry.source, entry) for entry in entries]
    if measure in (Measure.OUTINGS, Measure.HOURS):
        rows += [row for row in _count_activities(hardware_type, measure) if row.record.pk not in taken]
    kept = [row for row in rows if (since is None or row.end > since) and (until is None or row.end <= until)]
    return Exposure(measure, tuple(sorted(kept, key=lambda row: row.end, reverse=True)))


def write_row(mode: FailureMode, row: Used) -> tuple[Any, ...]:
    """Return what a line of the export holds; its first columns are those that an import takes."""
    origin = "entered" if row.is_entered else "counted from an activity"
    return mode.hardware_type.part_number, mode.measure, row.amount, row.start, row.end, row.source, origin


def _count_activities(hardware_type: HardwareType, measure: str) -> Iterable[Used]:
    uses = ActivityHardware.objects.filter(active=True, item__type=hardware_type).values_list("activity_id", flat=True)
    items: dict[int, int] = {}
    for activity_id in uses:
        items[activity_id] = items.get(activity_id, 0) + 1
    for activity in Activity.objects.filter(pk__in=items, state__in=OVER, actual_end__isnull=False):
        assert activity.actual_start is not None
        assert activity.actual_end is not None
        count = items[activity.pk]
        hours = (activity.actual_end - activity.actual_start).total_seconds() / 3600.0
        words = f"{activity.title}, {count} item{'s' if count != 1 else ''}"
        amount = float(count) if measure == Measure.OUTINGS else count * hours
        yield Used(amount, activity.actual_start, activity.actual_end, words, activity)


def list_occurrences(
    mode: FailureMode, *, since: datetime | None = None, until: datetime | None = None
) -> list[Occurrence]:
    """Return the occurrences of a failure mode after `since` and not after `until`, the latest first.

    Those of anomalies that were dismissed or discarded don't count.
    """
    rows = mode.occurrences.filter(active=True, anomaly__state__in=COUNTED).select_related("anomaly")
    if since is not None:
        rows = rows.filter(anomaly__occurred_at__gt=since)
    if until is not None:
        rows = rows.filter(anomaly__occurred_at__lte=until)
    return list(rows.order_by("-anomaly__occurred_at"))
