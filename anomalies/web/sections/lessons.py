"""The section of the dossier about lessons: which are offered for the anomaly, and which were drawn from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User

from anomalies.models import Anomaly
from anomalies.reads.lessons.offers import name_place, read_offers
from anomalies.states import AnomalyState
from anomalies.web.dossier import section


@section(
    "lessons",
    "Lessons",
    template="anomalies/lessons/_section.html",
    parts=lambda anomaly: [anomaly.lesson_uses.all()],
)
def gather_lessons(anomaly: Anomaly, person: User) -> Mapping[str, Any]:
    """What is offered and decided, and what was drawn from it once it's closed."""
    offers = read_offers(anomaly)
    drawn = list(anomaly.lessons.order_by("pk"))
    origin = name_place(anomaly) if anomaly.state == AnomalyState.CLOSED else ""
    return {"offers": offers, "drawn": drawn, "origin": origin, "count": offers.count}
