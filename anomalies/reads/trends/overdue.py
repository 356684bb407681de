"""Actions that are overdue now, with their owners."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC

from anomalies.models import CorrectiveAction
from anomalies.reads.trends.facts import Facts
from config.kit.permissions import Actor


@dataclass(frozen=True, slots=True)
class Overdue:
    """One action, and by how many days it is late."""

    action: CorrectiveAction
    days: int


def list_overdue(actor: Actor, facts: Facts) -> list[Overdue]:
    """Return those of the anomalies that count, the latest first."""
    today = facts.now.astimezone(UTC).date()
    kept = {case.pk for case in facts.cases}
    rows = CorrectiveAction.objects.visible_to(actor).overdue(today).select_related("owner", "anomaly")
    return [
        Overdue(action, (today - action.due_on).days)
        for action in rows.order_by("due_on", "pk")
        if action.due_on is not None and action.anomaly_id in kept
    ]
