"""Whether an action works, in numbers: the rate of its anomaly's failure modes before it was done and since."""

from __future__ import annotations

import math
from dataclasses import dataclass

from anomalies.models import Anomaly, CorrectiveAction, FailureMode
from anomalies.reads.effectiveness import find_recurrences
from anomalies.reads.exposure import list_occurrences, read_exposure
from faulttree.facade import (
    Comparison,
    compare_rates,
    exposure_for_improvement,
    upper_rate,
)

DEFAULT = 0.9
CONFIDENCES = (0.8, 0.9, 0.95, 0.99)


@dataclass(frozen=True, slots=True)
class Span:
    """Occurrences in an exposure."""

    count: int
    exposure: float

    @property
    def rate(self) -> float | None:
        """Per unit of exposure; None without any."""
        return self.count / self.exposure if self.exposure > 0 else None


@dataclass(frozen=True)
class ModeRates:
    """One failure mode before the action was done and since.

    comparison : None without exposure on both sides, or where nothing was seen at all
    upper : one-sided upper limit of the rate since, None without exposure
    needed : exposure from now on, without another recurrence, that shows an improvement; 0: it is shown; None: nothing
        can show it, as nothing was seen before
    """

    mode: FailureMode
    before: Span
    since: Span
    comparison: Comparison | None
    upper: float | None
    needed: float | None
    recurrences: tuple[Anomaly, ...]
    confidence: float

    @property
    def is_shown(self) -> bool:
        """The improvement is shown at the confidence."""
        return self.comparison is not None and self.comparison.p_improved <= 1.0 - self.confidence


def read_confidence(text: str) -> float:
    """Return the confidence that was asked for, if it is one of those offered."""
    return next((each for each in CONFIDENCES if f"{each:g}" == text), DEFAULT)


def read_rates(action: CorrectiveAction, confidence: float = DEFAULT) -> list[ModeRates]:
    """Return each failure mode that the action's anomaly names; nothing for an action that isn't verified.

    What occurred counts as before up to the moment the action was done, the anomaly itself included; the exposure too.
    A recurrence that was linked to the anomaly counts since, also if it names no failure mode.
    """
    if action.verified_at is None or action.done_at is None:
        return []
    named = action.anomaly.occurrences.filter(active=True).select_related("failure_mode__hardware_type")
    return [_compare(action, row.failure_mode, confidence) for row in named]


def _compare(action: CorrectiveAction, mode: FailureMode, confidence: float) -> ModeRates:
    done = action.done_at
    kind, measure = mode.hardware_type, mode.measure
    earlier, later = list_occurrences(mode, until=done), list_occurrences(mode, since=done)
    linked = [each for each in find_recurrences(action) if each.pk not in {row.anomaly_id for row in later}]
    before = Span(sum(row.count for row in earlier), read_exposure(kind, measure, until=done).total)
    since = Span(sum(row.count for row in later) + len(linked), read_exposure(kind, measure, since=done).total)
    both = before.exposure > 0 and since.exposure > 0
    comparison = None
    if both:
        comparison = compare_rates(before.count, before.exposure, since.count, since.exposure, confidence=confidence)
    recurrences = {row.anomaly.pk: row.anomaly for row in later} | {each.pk: each for each in linked}
    return ModeRates(
        mode,
        before,
        since,
        comparison,
        upper_rate(since.count, since.exposure, confidence) if since.exposure > 0 else None,
        _find_needed(before, since, confidence),
        tuple(recurrences.values()),
        confidence,
    )


def _find_needed(before: Span, since: Span, confidence: float) -> float | None:
    if before.exposure <= 0:
        return None
    whole = exposure_for_improvement(before.count, before.exposure, confidence, after=since.count)
    return None if whole is None or not math.isfinite(whole) else max(whole - since.exposure, 0.0)
