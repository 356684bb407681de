"""Gathers anomalies with all that the brief says of them, in a number of queries that doesn't grow with theirs."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch, QuerySet

from anomalies.models import (
    Anomaly,
    Cause,
    Concurrence,
    Constraint,
    CorrectiveAction,
    Finding,
    Investigation,
    ProcedureRevision,
)
from anomalies.models.anomaly import AnomalyQuerySet


def with_story(anomalies: AnomalyQuerySet) -> AnomalyQuerySet:
    """Return the anomalies with their actions, causes, findings, dissents, constraints, revisions and investigation."""
    revisions: QuerySet[Any] = ProcedureRevision.objects.ever_released().select_related("procedure", "base")
    actions: QuerySet[Any] = CorrectiveAction.objects.select_related(
        *("owner", "doer", "verifier", "removed_item__type", "installed_item__type")
    )
    stands: QuerySet[Any] = Concurrence.objects.select_related("member").order_by("pk")
    findings: QuerySet[Any] = Finding.objects.order_by("position")
    return anomalies.select_related("activity", "closed_by", "unexplained_by").prefetch_related(
        Prefetch("actions", queryset=actions.order_by("pk")),
        Prefetch("actions__procedure_revisions", queryset=revisions),
        Prefetch("procedure_revisions", queryset=revisions),
        Prefetch("causes", queryset=Cause.objects.order_by("position")),
        Prefetch("findings", queryset=findings),
        Prefetch("findings__concurrences", queryset=stands),
        Prefetch("constraints", queryset=Constraint.objects.order_by("pk")),
        Prefetch("investigation", queryset=Investigation.objects.select_related("revision__tree")),
    )


def find_investigation(anomaly: Anomaly) -> Investigation | None:
    """Return the investigation by its fault tree; None if there's none."""
    found: Investigation | None = getattr(anomaly, "investigation", None)
    return found


def list_revisions(anomaly: Anomaly) -> list[ProcedureRevision]:
    """Return the released revisions that the anomaly or one of its actions caused, by procedure and number."""
    caused = [*anomaly.procedure_revisions.all()]
    for action in anomaly.actions.all():
        caused += action.procedure_revisions.all()
    released = {row.pk: row for row in caused if row.released_at}
    return sorted(released.values(), key=lambda row: (row.procedure.number, row.number))
