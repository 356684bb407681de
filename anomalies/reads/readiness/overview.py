"""How the activities to come stand, at a glance."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC

from anomalies.clock import now
from anomalies.models import Activity, ReadinessReview
from anomalies.reads.readiness.checklist import Checklist, is_stale, read_checklist
from config.kit.permissions import Actor

MOST = 30


@dataclass(frozen=True, slots=True)
class ComingRow:
    """An activity to come, its review if there's one, and its list."""

    activity: Activity
    review: ReadinessReview | None
    found: Checklist
    is_stale: bool

    @property
    def days(self) -> int:
        """Days until it's planned to begin; negative once that is past."""
        return (self.activity.planned_start.astimezone(UTC).date() - now().astimezone(UTC).date()).days


def list_coming(actor: Actor) -> list[ComingRow]:
    """Return the planned activities, the next one first; at most MOST, which the page says."""
    rows = Activity.objects.visible_to(actor).coming().select_related("lead")
    return [read_coming(activity) for activity in rows[:MOST]]


def read_coming(activity: Activity) -> ComingRow:
    """Return how one activity stands."""
    review = ReadinessReview.objects.filter(activity=activity).first()
    found = read_checklist(activity, review)
    return ComingRow(activity, review, found, is_stale(review, found))
