"""Sections of the dossier about what is done, and what keeps the anomaly open."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Prefetch, QuerySet

from anomalies.clock import now
from anomalies.models import ActionCause, ActionEffect, ActionEvidence, ActionTie, Anomaly, SignOff
from anomalies.services.closing import find_closing_gaps
from anomalies.states import AnomalyState
from anomalies.web.dossier import section


@section(
    "actions",
    "Corrective actions",
    template="anomalies/actions/_section.html",
    parts=lambda anomaly: [
        anomaly.actions.all(),
        ActionCause.objects.filter(action__anomaly=anomaly),
        ActionEvidence.objects.filter(action__anomaly=anomaly),
        ActionEffect.objects.filter(action__anomaly=anomaly),
        ActionTie.objects.filter(action__anomaly=anomaly),
    ],
)
def gather_actions(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The actions, each with the causes it addresses."""
    causes: QuerySet[Any] = ActionCause.objects.filter(active=True).select_related("cause__anomaly")
    rows = list(
        anomaly.actions.select_related("owner").prefetch_related(Prefetch("addresses", queryset=causes)).order_by("pk")
    )
    return {"rows": rows, "today": now().date(), "count": len(rows)}


@section("closure", "Closing", template="anomalies/closure/_section.html")
def gather_closure(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """What keeps it open, and who signed what about it."""
    gaps = find_closing_gaps(anomaly) if anomaly.state == AnomalyState.OPEN else []
    return {"gaps": gaps, "signatures": list(SignOff.objects.of(anomaly))}
