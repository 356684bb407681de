"""What was counted of each failure mode, and what it would make of the value it informs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from anomalies.clock import now
from anomalies.models import ExposureEntry, FailureMode, Occurrence, ParameterUpdate
from anomalies.reads.exposure import Exposure, list_occurrences, read_exposure
from anomalies.states import UpdateState
from config.kit.errors import DomainError
from faulttree.facade import (
    SharedNow,
    Updated,
    check_unit,
    find_quantity,
    lower_rate,
    make_prior,
    make_update,
    read_shared,
    upper_probability,
    upper_rate,
)

CONFIDENCE = 0.95
"""Of each one-sided limit: together they are a two-sided 90 % interval."""


@dataclass(frozen=True, slots=True)
class Experience:
    """Occurrences and exposure from `since` (None: from the beginning) to `until`."""

    count: int
    amount: float
    measure: str
    since: datetime | None
    until: datetime

    def to_plain(self) -> dict[str, Any]:
        """Return what JSON can hold."""
        start = f"from {self.since.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if self.since else "from the beginning"
        return {
            "measure": self.measure,
            "since": self.since.isoformat() if self.since else "",
            "until": self.until.isoformat(),
            "window": f"{start} to {self.until.astimezone(UTC):%Y-%m-%d %H:%M} UTC",
        }


@dataclass(frozen=True)
class ModeView:
    """A failure mode with all that was counted; `estimate`, `low` and `high` are per unit of its measure.

    suggestion : what the library's value would become by the new experience; None where `why_not` says why
    """

    mode: FailureMode
    occurrences: list[Occurrence]
    exposure: Exposure
    estimate: float | None
    low: float | None
    high: float | None
    shared: SharedNow | None
    new: Experience | None
    suggestion: Updated | None
    why_not: str
    waiting: ParameterUpdate | None

    @property
    def count(self) -> int:
        """Occurrences, all together."""
        return sum(row.count for row in self.occurrences)


def read_mode(mode: FailureMode) -> ModeView:
    """Return a failure mode as its page shows it."""
    occurrences, exposure = list_occurrences(mode), read_exposure(mode.hardware_type, mode.measure)
    count, total = sum(row.count for row in occurrences), exposure.total
    low = high = None
    if total > 0:
        low = lower_rate(count, total, CONFIDENCE) if mode.measure == "hours" else None
        high = upper_rate(count, total, CONFIDENCE) if mode.measure == "hours" else None
        if mode.measure != "hours" and count <= total:
            low, high = (
                1.0 - upper_probability(int(total) - count, total, CONFIDENCE),
                upper_probability(count, total, CONFIDENCE),
            )
    shared = read_shared(mode.item_id) if mode.item_id else None
    new, suggestion, why_not = _suggest(mode, shared)
    waiting = ParameterUpdate.objects.waiting().filter(item=mode.item_id).first() if mode.item_id else None
    return ModeView(
        mode,
        occurrences,
        exposure,
        count / total if total > 0 else None,
        low,
        high,
        shared,
        new,
        suggestion,
        why_not,
        waiting,
    )


def count_experience(mode: FailureMode) -> Experience:
    """Return occurrences and exposure that no accepted update of the value has taken in yet."""
    since, until = find_end_of_last(mode), now()
    count = sum(row.count for row in list_occurrences(mode, since=since, until=until))
    amount = read_exposure(mode.hardware_type, mode.measure, since=since, until=until).total
    return Experience(count, amount, mode.measure, since, until)


def find_end_of_last(mode: FailureMode) -> datetime | None:
    """Return up to when the last accepted update from this failure mode counted."""
    last = mode.updates.filter(state=UpdateState.ACCEPTED).order_by("-decided_at").first()
    return datetime.fromisoformat(last.data["until"]) if last else None


def _suggest(mode: FailureMode, shared: SharedNow | None) -> tuple[Experience | None, Updated | None, str]:
    if shared is None:
        return None, None, "It informs nothing of the library: choose the parameter or event that it is about."
    new = count_experience(mode)
    if new.amount <= 0:
        return new, None, "There's no exposure since the last update: enter some, or complete an activity with it."
    quantity = find_quantity(mode.measure)
    try:
        check_unit(shared, mode.measure)
        prior = make_prior(shared, quantity, "library", {})
        return new, make_update(prior, quantity, new.count, new.amount), ""
    except DomainError as error:
        return new, None, error.message


def list_entries(mode: FailureMode) -> list[ExposureEntry]:
    """Return the entries of the log that don't count any more, for the page to show beside the others."""
    rows = mode.hardware_type.exposure.filter(measure=mode.measure).exclude(state="standing")
    return list(rows.select_related("entered_by"))
