"""The section of the dossier about the fault tree of the anomaly."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet

from anomalies.models import (
    Anomaly,
    Baseline,
    Bearing,
    Disposition,
    DispositionEvidence,
    DispositionFinding,
    Inspection,
    Investigation,
)
from anomalies.reads.investigations import read_investigation
from anomalies.web.dossier import section
from config.kit.errors import DomainError


def list_parts(anomaly: Anomaly) -> Iterable[QuerySet[Any]]:
    """Return the records that belong to the investigation of an anomaly."""
    return [
        Investigation.objects.filter(anomaly=anomaly),
        Disposition.objects.filter(investigation__anomaly=anomaly),
        DispositionEvidence.objects.filter(disposition__investigation__anomaly=anomaly),
        DispositionFinding.objects.filter(disposition__investigation__anomaly=anomaly),
        Bearing.objects.filter(investigation__anomaly=anomaly),
        Inspection.objects.filter(investigation__anomaly=anomaly),
        Baseline.objects.filter(investigation__anomaly=anomaly),
    ]


@section("investigation", "Fault tree", template="anomalies/investigation/_section.html", parts=list_parts)
def gather_investigation(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """What the tree says now: the likeliest explanations, how many events are open; nothing where none is open."""
    rows = Investigation.objects.select_related("anomaly", "revision__tree", "origin__tree")
    investigation = rows.defer("revision__source", "origin__source").filter(anomaly=anomaly).first()
    if investigation is None:
        return {}
    try:
        view = read_investigation(investigation)
    except DomainError as error:
        return {"investigation": investigation, "stopped": error.message}
    return {"investigation": investigation, "view": view, "leading": view.explanations[:3]}
