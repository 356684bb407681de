"""The log: anomalies by a filter that is an address."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.models import User
from django.db.models import Case, F, IntegerField, Value, When

from anomalies.models import Activity, Anomaly, AnomalyHardware, Constraint, HardwareType, SearchText
from anomalies.models.anomaly import AnomalyQuerySet
from anomalies.risk import Risk, Severity, cells_at
from anomalies.states import ActivityState, AnomalyState
from config.kit.addresses import read_choice, read_key, read_text
from config.kit.permissions import Actor

SORTS = {"": "Newest first", "oldest": "Oldest first", "risk": "Gravest risk first", "number": "By number"}
HEADER = (
    "number",
    "title",
    "state",
    "risk code",
    "risk",
    "occurred at",
    "mission time",
    "activity",
    "place",
    "lead",
    "reported at",
    "closed at",
)


@dataclass(frozen=True, slots=True)
class LogFilter:
    """What the log shows; made from an address, and written as one. What makes no sense is left out."""

    words: str = ""
    state: str = ""
    risk: str = ""
    severity: str = ""
    lead: str = ""
    activity: str = ""
    type: str = ""
    year: str = ""
    mine: str = ""
    holds: str = ""
    sort: str = ""

    @classmethod
    def read(cls, query: Mapping[str, str]) -> LogFilter:
        """Return what the address asks for."""
        year = read_key(query, "year")
        return cls(
            words=read_text(query),
            state=read_choice(query, "state", AnomalyState.values),
            risk=read_choice(query, "risk", Risk.values),
            severity=read_choice(query, "severity", [str(value) for value in Severity.values]),
            lead=read_key(query, "lead"),
            activity=read_key(query, "activity"),
            type=read_key(query, "type"),
            year=year if year and 1 <= int(year) <= 9999 else "",
            mine="1" if read_text(query, "mine") else "",
            holds="1" if read_text(query, "holds") else "",
            sort=read_choice(query, "sort", SORTS),
        )

    @property
    def query(self) -> str:
        """The address of the filter, without the page."""
        return urlencode({name: value for name, value in asdict(self).items() if value})

    @property
    def is_narrow(self) -> bool:
        """Something is left out."""
        return any(value for name, value in asdict(self).items() if name != "sort")


def find_log(actor: Actor, wanted: LogFilter) -> AnomalyQuerySet:
    """Return the anomalies that the filter lets through, in its order."""
    rows = Anomaly.objects.visible_to(actor)
    if wanted.words:
        found = SearchText.objects.visible_to(actor).matching(wanted.words).exclude(anomaly=None)
        rows = rows.filter(pk__in=found.values("anomaly"))
    if wanted.state:
        rows = rows.filter(state=wanted.state)
    if wanted.risk:
        rows = rows.at_risk(wanted.risk)
    if wanted.severity:
        rows = rows.filter(severity=int(wanted.severity))
    if wanted.lead:
        rows = rows.filter(lead=int(wanted.lead))
    if wanted.activity:
        rows = rows.filter(activity=int(wanted.activity))
    if wanted.type:
        concerned = AnomalyHardware.objects.filter(active=True, item__type=int(wanted.type))
        rows = rows.filter(pk__in=concerned.values("anomaly"))
    if wanted.year:
        rows = rows.filter(occurred_at__year=int(wanted.year))
    if wanted.mine:
        me = getattr(actor, "pk", None)
        rows = rows.filter(lead=me) | rows.filter(recorded_by=me)
    if wanted.holds:
        rows = rows.filter(pk__in=_find_holding())
    return rows.order_by(*_order(wanted.sort)).select_related("activity", "lead")


def write_row(row: Anomaly) -> list[Any]:
    """Return the cells of HEADER."""
    return [
        row.number or "draft",
        row.title,
        row.get_state_display(),
        row.risk_code,
        row.risk.label if row.risk else "",
        row.occurred_at,
        row.mission_time,
        row.activity.title if row.activity else "",
        row.place,
        row.lead.username if row.lead else "",
        row.reported_at,
        row.closed_at,
    ]


def read_choices() -> dict[str, Any]:
    """Return what the filter's boxes offer."""
    return {
        "states": AnomalyState.choices,
        "risks": Risk.choices,
        "severities": Severity.choices,
        "leads": User.objects.filter(anomalies_led__isnull=False).distinct().order_by("last_name", "username"),
        "activities": Activity.objects.order_by("-planned_start")[:200],
        "types": HardwareType.objects.order_by("name"),
        "sorts": SORTS.items(),
    }


def _find_holding() -> Any:
    """Return the anomalies with a constraint in force on an activity to come, by name or by a type that it uses."""
    to_come = Activity.objects.filter(state__in=(ActivityState.PLANNED, ActivityState.UNDER_WAY))
    used = HardwareType.objects.filter(items__activity_uses__activity__in=to_come, items__activity_uses__active=True)
    held = Constraint.objects.in_force()
    return (held.filter(activity__in=to_come) | held.filter(hardware_type__in=used)).values("anomaly")


def _order(sort: str) -> tuple[Any, ...]:
    if sort == "oldest":
        return ("occurred_at", "pk")
    if sort == "number":
        return (F("number").desc(nulls_last=True), "-pk")
    if sort == "risk":
        return (_rank(), F("severity").asc(nulls_last=True), "probability", "-occurred_at", "-pk")
    return ("-occurred_at", "-pk")


def _rank() -> Case:
    """Return the place of the risk level, gravest first, unassessed last."""
    cells = [(place, cell) for place, risk in enumerate(Risk.values) for cell in cells_at(risk)]
    whens = [When(severity=severity, probability=level, then=Value(place)) for place, (severity, level) in cells]
    return Case(*whens, default=Value(len(Risk.values)), output_field=IntegerField())
