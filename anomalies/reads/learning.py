"""What was counted of each failure mode, and what it would make of the value it informs."""

from __future__ import annotations

import math
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
ROUNDING = 1e-9
NO_EXPOSURE = "There's no exposure since the last update: enter some, or complete an activity with it."
TAKEN_BACK = (
    "More was taken back of what accepted updates had counted than came in since, so no update can mend it: set the "
    "value in the library by hand."
)


@dataclass(frozen=True, slots=True)
class Experience:
    """Occurrences and exposure from `since` (None: from the beginning) to `until`, and what came in late.

    late_count, late_amount : part of count and amount that lies before `since` and came in, or was taken back (below
        0), after the last accepted update had counted
    """

    count: int
    amount: float
    measure: str
    since: datetime | None
    until: datetime
    late_count: int = 0
    late_amount: float = 0.0

    @property
    def is_late(self) -> bool:
        """Some of it came in late, or was taken back."""
        return self.late_count != 0 or self.late_amount != 0.0

    @property
    def is_usable(self) -> bool:
        """An update can be made of it."""
        return self.amount > 0.0 and self.count >= 0

    def to_plain(self) -> dict[str, Any]:
        """Return what JSON can hold."""
        start = f"from {self.since.astimezone(UTC):%Y-%m-%d %H:%M} UTC" if self.since else "from the beginning"
        late = f", with {self.late_count:+d} in {self.late_amount:+g} from before that came in late"
        return {
            "measure": self.measure,
            "since": self.since.isoformat() if self.since else "",
            "until": self.until.isoformat(),
            "window": f"{start} to {self.until.astimezone(UTC):%Y-%m-%d %H:%M} UTC{late if self.is_late else ''}",
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
    """Return occurrences and exposure that no accepted update from this failure mode has taken in yet.

    What lies before the end of the last one but was named or entered after it counts too, and what it counted and was
    taken back since is subtracted, so that nothing counts twice and nothing is lost.
    """
    since, until = find_end_of_last(mode), now()
    count = sum(row.count for row in list_occurrences(mode, since=since, until=until))
    amount = read_exposure(mode.hardware_type, mode.measure, since=since, until=until).total
    if since is None:
        return Experience(count, amount, mode.measure, since, until)
    taken = [row.data for row in mode.updates.filter(state=UpdateState.ACCEPTED)]
    taken = [data for data in taken if data["measure"] == mode.measure]
    late_count = sum(row.count for row in list_occurrences(mode, until=since)) - sum(data["count"] for data in taken)
    before = read_exposure(mode.hardware_type, mode.measure, until=since).total
    late_amount = before - sum(data["amount"] for data in taken)
    if math.isclose(late_amount, 0.0, abs_tol=ROUNDING * before):
        late_amount = 0.0
    return Experience(count + late_count, amount + late_amount, mode.measure, since, until, late_count, late_amount)


def find_end_of_last(mode: FailureMode) -> datetime | None:
    """Return up to when the last accepted update from this failure mode counted."""
    last = mode.updates.filter(state=UpdateState.ACCEPTED).order_by("-decided_at").first()
    return datetime.fromisoformat(last.data["until"]) if last else None


def _suggest(mode: FailureMode, shared: SharedNow | None) -> tuple[Experience | None, Updated | None, str]:
    if shared is None:
        return None, None, "It informs nothing of the library: choose the parameter or event that it is about."
    new = count_experience(mode)
    if not new.is_usable:
        return new, None, TAKEN_BACK if new.late_count < 0 or new.late_amount < 0 else NO_EXPOSURE
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
