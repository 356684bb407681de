"""Sections of the dossier about the anomaly itself: its story, risk, constraints, hardware, links and history."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.db.models import QuerySet

from anomalies.models import Anomaly, AnomalyLink
from anomalies.models.ties import LinkQuerySet
from anomalies.reads.history import read_history
from anomalies.states import ConstraintState, LinkState
from anomalies.web.dossier import find_parts, section
from anomalies.web.risk_matrix import draw_matrix

NEWEST = 12


@section("story", "Story", template="anomalies/dossier/_story.html")
def gather_story(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """Nothing but the anomaly."""
    return {}


@section("risk", "Risk", template="anomalies/dossier/_risk.html")
def gather_risk(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The matrix with the anomaly's cell."""
    return {"matrix": draw_matrix(anomaly.risk_code), "is_screened": anomaly.screened_at is not None}


def find_constraints(anomaly: Anomaly) -> QuerySet[Any]:
    """Return the constraints, those in force first."""
    rows = anomaly.constraints.select_related("activity", "hardware_type", "anomaly")
    return rows.order_by("state", "pk")  # in_force comes before resolved


@section(
    "constraints",
    "Constraints",
    template="anomalies/dossier/_constraints.html",
    parts=lambda anomaly: [anomaly.constraints.all()],
)
def gather_constraints(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The constraints, and how many are in force."""
    rows = list(find_constraints(anomaly))
    return {"rows": rows, "count": sum(row.state == ConstraintState.IN_FORCE for row in rows)}


@section(
    "hardware",
    "Hardware concerned",
    template="anomalies/dossier/_hardware.html",
    parts=lambda anomaly: [anomaly.hardware_concerned.all()],
)
def gather_hardware(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The items, where each is, and whether it may be used."""
    rows = anomaly.hardware_concerned.filter(active=True).select_related("item__type", "item__installed_in__type")
    items = [row.item for row in rows]
    return {"items": items, "count": len(items)}


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A link as seen from one end: words, and the anomaly at the other."""

    link: AnomalyLink
    words: str
    other: Anomaly


def find_links(anomaly: Anomaly) -> LinkQuerySet:
    """Return the links from and to the anomaly."""
    return AnomalyLink.objects.touching(anomaly).select_related("source", "target", "made_by")


def link_parts(anomaly: Anomaly) -> Iterable[QuerySet[Any]]:
    """Return the links, also the withdrawn ones."""
    return [AnomalyLink.objects.touching(anomaly)]


@section("links", "Linked anomalies", template="anomalies/dossier/_links.html", parts=link_parts)
def gather_links(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """Each link as seen from this anomaly: words, and the one at the other end."""
    rows = [LinkRow(link, say_link(link, anomaly), other_end(link, anomaly)) for link in find_links(anomaly)]
    standing = [row for row in rows if row.link.state == LinkState.STANDING]
    withdrawn = [row for row in rows if row.link.state != LinkState.STANDING]
    return {"rows": standing, "withdrawn": withdrawn, "count": len(standing)}


def other_end(link: AnomalyLink, anomaly: Anomaly) -> Anomaly:
    """Return the one that this one is linked to."""
    return link.target if is_from(link, anomaly) else link.source


def is_from(link: AnomalyLink, anomaly: Anomaly) -> bool:
    """Tell whether the link begins at the anomaly."""
    return link.source_id == anomaly.pk


def say_link(link: AnomalyLink, anomaly: Anomaly) -> str:
    """Return what the other one is to this one, as in “duplicate of” and “has the duplicate”."""
    if is_from(link, anomaly) or link.kind == AnomalyLink.Kind.RELATED:
        return AnomalyLink.Kind(link.kind).label.capitalize()
    return {"duplicate": "Has the duplicate", "recurrence": "Recurred as"}[link.kind]


@section("history", "History", template="anomalies/dossier/_history.html")
def gather_history(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """The newest entries of the ledger about the anomaly and all that belongs to it."""
    events = read_history(anomaly, parts=find_parts(anomaly))[::-1]
    return {"events": events[:NEWEST], "all": len(events), "more": len(events) > NEWEST, "count": len(events)}
