"""Whether an action works: what has passed since it was verified, without the anomaly's recurring."""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.models import Activity, ActivityHardware, Anomaly, AnomalyLink, CorrectiveAction, HardwareItem
from anomalies.models.anomaly import AnomalyQuerySet
from anomalies.states import ActivityState

CONFIDENCE = 0.9


@dataclass(frozen=True, slots=True)
class Watch:
    """The watch on a verified action.

    needed          activities that must pass; 0 if no watch was set
    activities      completed since then with the hardware concerned, the oldest first
    recurrences     anomalies that were found to be this one again
    """

    needed: int
    activities: tuple[Activity, ...]
    recurrences: tuple[Anomaly, ...]

    @property
    def passed(self) -> int:
        """Activities that passed."""
        return len(self.activities)

    @property
    def left(self) -> int:
        """Activities that must still pass."""
        return max(self.needed - self.passed, 0)

    @property
    def least_success(self) -> float | None:
        """Lower limit, at CONFIDENCE, of the chance that an activity passes without recurrence; None if unknown."""
        return find_least_success(self.passed) if self.passed and not self.recurrences else None


def find_least_success(passed: int, confidence: float = CONFIDENCE) -> float:
    """Return the one-sided lower limit of a probability of success after `passed` trials without a failure.

    (1 - confidence) ** (1 / passed): the exact binomial limit for no failures. Source: Clopper and Pearson 1934, for
    zero failures (from memory; held against scipy's beta distribution in the tests). It takes trials as independent and
    alike.
    """
    return float((1.0 - confidence) ** (1.0 / passed))


def read_watch(action: CorrectiveAction) -> Watch:
    """Return how the watch stands; of an action that isn't verified, an empty one."""
    needed = action.watch_activities or 0
    if action.verified_at is None:
        return Watch(needed, (), ())
    done = Activity.objects.filter(state=ActivityState.COMPLETED, actual_end__gt=action.verified_at)
    types = set(HardwareItem.objects.filter(anomaly_concerns__in=_concerned(action)).values_list("type", flat=True))
    if types:
        used = ActivityHardware.objects.filter(active=True, item__type__in=types)
        done = done.filter(pk__in=used.values("activity"))
    elif action.anomaly.activity is not None:
        done = done.filter(kind=action.anomaly.activity.kind)
    return Watch(needed, tuple(done.order_by("actual_end")), tuple(find_recurrences(action)))


def find_recurrences(action: CorrectiveAction) -> AnomalyQuerySet:
    """Return the anomalies that were found to be the same again after the action was done, the oldest first."""
    links = AnomalyLink.objects.standing().filter(kind=AnomalyLink.Kind.RECURRENCE, target=action.anomaly_id)
    again = Anomaly.objects.filter(pk__in=links.values("source"), occurred_at__gt=action.done_at)
    return again.order_by("occurred_at")


def _concerned(action: CorrectiveAction) -> list[int]:
    rows = action.anomaly.hardware_concerned.filter(active=True)
    return list(rows.values_list("pk", flat=True))
