"""Items from anomalies: those that touch the activity, and the constraints that they put on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime

from django.db.models import Q

from anomalies.models import Anomaly, AnomalyHardware, Constraint, ProcedureRevision
from anomalies.people import name_of
from anomalies.reads.readiness.item import MET, OPEN, Item
from anomalies.reads.readiness.scope import Scope
from anomalies.states import AnomalyState, ConstraintState

LIVE = (AnomalyState.REPORTED, AnomalyState.OPEN)


def find_constraints(scope: Scope) -> Iterator[Item]:
    """Give every constraint on the activity or on a type of hardware that it uses, also within another item."""
    rows = Constraint.objects.filter(Q(activity=scope.activity) | Q(hardware_type__in=scope.types))
    for row in rows.select_related("anomaly__lead", "hardware_type").order_by("pk"):
        by = f" (by {row.hardware_type})" if row.hardware_type else ""
        title = f"{row.anomaly.number}: {row.statement}{by}"
        if row.state == ConstraintState.RESOLVED:
            mark = f"resolved {row.version}"
            yield Item(f"constraint-{row.pk}", title, MET, f"Resolved: {row.resolution}", mark, row)
        else:
            owner = name_of(row.anomaly.lead) if row.anomaly.lead else ""
            yield Item(f"constraint-{row.pk}", title, OPEN, "The constraint is in force.", "in force", row, owner)


def find_anomalies(scope: Scope) -> Iterator[Item]:
    """Give open anomalies that touch the activity, and those closed since the last one of its kind began."""
    reasons = _find_reasons(scope)
    since = _begin_of_last(scope)
    rows = Anomaly.objects.filter(pk__in=reasons).select_related("lead")
    for row in rows.order_by("occurred_at", "pk"):
        why = "; it ".join(sorted(reasons[row.pk]))
        title = str(row)
        key = f"anomaly-{row.pk}"
        if row.state in LIVE:
            waits = row.state == AnomalyState.REPORTED
            because = f"It {why}. It {'awaits screening' if waits else 'is not closed'}."
            owner = name_of(row.lead) if row.lead else "whoever screens"
            yield Item(key, title, OPEN, because, f"{row.state} {row.risk_code}".strip(), row, owner)
        elif row.state == AnomalyState.CLOSED and (since is None or (row.closed_at and row.closed_at >= since)):
            mark = f"closed {row.closed_at.isoformat() if row.closed_at else ''}"
            yield Item(key, title, MET, f"It {why}. Closed: {row.closing_statement}", mark, row)


def _begin_of_last(scope: Scope) -> datetime | None:
    last = scope.previous
    return (last.actual_start or last.planned_start) if last else None


def _find_reasons(scope: Scope) -> dict[int, set[str]]:
    """Return key of anomaly -> why it touches the activity."""
    reasons: dict[int, set[str]] = defaultdict(set)
    activity = scope.activity
    held = Constraint.objects.filter(activity=activity)
    for key in held.values_list("anomaly_id", flat=True):
        reasons[key].add("constrains it")
    concerned = AnomalyHardware.objects.filter(active=True, item__type__in=scope.types)
    for key, type_id in concerned.values_list("anomaly_id", "item__type_id"):
        reasons[key].add(f"touches {scope.types[type_id]}")
    changed = ProcedureRevision.objects.filter(procedure__in=scope.procedures, anomaly__isnull=False)
    for key, procedure in changed.values_list("anomaly_id", "procedure_id"):
        assert key is not None
        reasons[key].add(f"touches {scope.procedures[procedure]}")
    if scope.previous is not None:
        for key in scope.previous.anomalies.values_list("pk", flat=True):
            reasons[key].add(f"happened during {scope.previous}")
    during = Anomaly.objects.filter(activity__in=scope.alike).select_related("activity")
    for row in during.exclude(activity=scope.previous):
        reasons[row.pk].add(f"happened during {row.activity}, which had a task of the same words")
    for row in activity.anomalies.all():
        reasons[row.pk].add("happened during it")
    return reasons
